"""The commands ``instrument frame`` and ``instrument read``: picture, table, and both clip and table in the study."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from click.testing import CliRunner

from tests.instruments.rendered import Trouble, dial_picture, marks_toml
from wringout.cli.main import cli


def _run(*given: str | Path) -> str:
    done = CliRunner().invoke(cli, [str(one) for one in given], standalone_mode=False)
    assert done.exception is None, done.exception
    return done.output


def test_a_clip_goes_from_picture_to_recording(tmp_path: Path) -> None:
    rng = np.random.default_rng(47)
    clip, dial, database = tmp_path / "panel.avi", tmp_path / "dial.toml", tmp_path / "studies.db"
    video = cv2.VideoWriter(str(clip), cv2.VideoWriter_fourcc(*"MJPG"), 10.0, (300, 260))
    for i in range(20):
        frame = dial_picture(110.0 - i, Trouble(0.0, 3.0, 0.0, 0.0), rng, 0.0)
        video.write(cv2.cvtColor(frame, cv2.COLOR_GRAY2BGR))
    video.release()
    dial.write_text(marks_toml(), encoding="utf-8")
    assert "300 by 260 pixels" in _run("instrument", "frame", clip, "--at", "1")
    assert cv2.imread(str(tmp_path / "panel.png")).shape == (260, 300, 3)
    _run("new", "A question", "--question", "Which?", "--database", database)
    out = tmp_path / "speeds.csv"
    said = _run("instrument", "read", clip, "--dial", dial, "--out", out, "--take-in", "--database", database)
    assert "20 frames read" in said
    assert out.read_text(encoding="utf-8").count("\n") >= 21
    listed = _run("recordings", "--database", database)
    assert "speeds.csv" in listed
    assert "panel.avi" in listed
