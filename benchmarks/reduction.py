"""Times the way from recordings to findings on the bundled study: taking in, reducing, compiling aside."""

from __future__ import annotations

import io
import statistics
import tempfile
import time
import tomllib
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path

from wringout.services.airplane.airplanes import put_airplane_file
from wringout.services.findings.reduce import DRAWS, reduce_study
from wringout.services.flights.recordings import take_in_recording
from wringout.services.opening import open_studies
from wringout.services.study.studies import make_study
from wringout.store import Store

ROUNDS = 5
SOURCE = files("wringout.services") / "demo_study"


def _now() -> datetime:
    return datetime.now(UTC)


def take_everything_in(store: Store) -> int:
    table = tomllib.loads((SOURCE / "study.toml").read_text(encoding="utf-8"))
    make_study(store, table["title"], "", {})
    put_airplane_file(store, None, (SOURCE / table["airplane"]).read_bytes(), table["airplane"])
    for item in table["recordings"]:
        setup = {key: str(value) for key, value in item.items() if key not in {"file", "run"}}
        data = (SOURCE / "recordings" / item["file"]).read_bytes()
        take_in_recording(store, None, io.BytesIO(data), item["file"], setup=setup, key=item["run"])
    return len(table["recordings"])


def main() -> None:
    with tempfile.TemporaryDirectory() as folder, open_studies(Path(folder) / "study.db", _now) as store:
        start = time.perf_counter()
        count = take_everything_in(store)
        print(f"{count} recordings taken in: {time.perf_counter() - start:.2f} s")
        start = time.perf_counter()
        first = reduce_study(store, None)
        print(f"first reduction, compiling or loading the compiled equations: {time.perf_counter() - start:.2f} s")
        seconds = []
        for _ in range(ROUNDS):
            start = time.perf_counter()
            again = reduce_study(store, None)
            seconds.append(time.perf_counter() - start)
            assert again.result.id == first.result.id
        print(
            f"reduction of {len(first.runs)} runs, {DRAWS:,} draws: median {statistics.median(seconds):.2f} s, "
            f"fastest {min(seconds):.2f} s of {ROUNDS}"
        )


if __name__ == "__main__":
    main()
