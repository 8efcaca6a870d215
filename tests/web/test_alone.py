"""Nothing needs a network: the whole journey in a namespace without one, and a guard that sees who would ask."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.house.tree import ROOT

FORBIDS = ("Operation not permitted", "Permission denied", "Invalid argument", "Function not implemented")
"""What a kernel says that gives this user no namespace of its own; the guard then stands alone."""


def test_the_whole_journey_goes_without_a_network(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.web.alone", str(tmp_path)],
        cwd=ROOT, capture_output=True, text=True, timeout=600, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout.splitlines()[-1])
    if found["forbidden"]:
        assert found["forbidden"].startswith(FORBIDS)
        with capsys.disabled():
            sys.stderr.write(
                f"\n  no network namespace here ({found['forbidden']}): a guard refused every connection instead\n"
            )
    assert found["cut off"]
    assert found["asked"] == []
    assert set(found["pages"].values()) == {200}
    assert len(found["pages"]) == 6
    assert {"brief.html", "brief.pdf"} <= set(found["brief"])


def test_the_guard_sees_who_asks_for_another_machine() -> None:
    program = """
import socket, sys
from tests.web.alone import guard
asked = []
guard(asked)
for ask in (
    lambda: socket.socket().connect(("192.0.2.1", 9)),
    lambda: socket.getaddrinfo("elsewhere.example", 80),
    lambda: socket.socket(socket.AF_INET, socket.SOCK_DGRAM).sendto(b"x", ("192.0.2.1", 9)),
):
    try:
        ask()
    except OSError as error:
        assert "without a network" in str(error)
socket.getaddrinfo("127.0.0.1", 80)
print(len(asked))
"""
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, timeout=60, check=True
    )
    assert done.stdout.strip() == "3"
