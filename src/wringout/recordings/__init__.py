"""Readers of flight recordings: hand-called readings and loggers' tables, from bytes to channels, marks and notices.

The front door is `wringout.recordings.reader.read_recording`; what it returns is in `wringout.recordings.types`.
"""
