"""Settings shared by every test: the same answer twice, on a slow machine too.

Property tests draw the same examples on each run. `pytest --hypothesis-profile=explore` draws fresh ones.
"""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("repeatable", deadline=None, derandomize=True, print_blob=True)
settings.register_profile("explore", deadline=None, derandomize=False, print_blob=True)
settings.load_profile("repeatable")
