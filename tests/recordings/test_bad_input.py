"""Whatever is fed in: a recording, or one sentence saying what is wrong, where, and what would be right."""

from __future__ import annotations

import io
import tracemalloc
import zipfile

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from wringout.errors import BadInputError
from wringout.recordings.changes import marks_from_channels
from wringout.recordings.reader import propose_mapping, read_recording
from wringout.recordings.types import Recording, Severity


def a_zip() -> bytes:
    store = io.BytesIO()
    with zipfile.ZipFile(store, "w") as archive:
        archive.writestr("run.csv", "0,120\n6,118\n")
    return store.getvalue()


REFUSED: dict[str, tuple[bytes, str]] = {
    "empty file": (b"", "x.csv: the file is empty; take in a file with readings or a logger's table."),
    "blank lines only": (b"\n \r\n\t\n", "x.csv: the file is empty; take in"),
    "byte order mark only": (b"\xef\xbb\xbf", "x.csv: the file is empty; take in"),
    "comments only": (b"# device: gear\n# nothing\n", "x.csv: there are no readings in this file; write one row"),
    "names only": (b"time,speed,mark\n", "x.csv: there are column names but no rows; write one row"),
    "prose": (b"We flew in the morning.\nIt was calm.\n", "x.csv, row 1: no row reads as a time and a speed"),
    "zip archive": (a_zip(), "x.csv: this is a zip archive or a spreadsheet, not a table; export the recording as CSV"),
    "compressed": (b"\x1f\x8b\x08\x00abc", "x.csv: this is a compressed file, not a table; export"),
    "png image": (b"\x89PNG\r\n\x1a\nabc", "x.csv: this is an image, not a table; export"),
    "jpeg image": (b"\xff\xd8\xff\xe0abc", "x.csv: this is an image, not a table; export"),
    "pdf": (b"%PDF-1.7\n0,120\n", "x.csv: this is a PDF document, not a table; export"),
    "NUL bytes": (b"0,120\n6,\x00118\n", "x.csv: this is a binary file, not text; export"),
    "control bytes": (bytes(range(1, 9)) * 20, "x.csv: this is a binary file, not text; export"),
    "UTF-16": ("0,120\n".encode("utf-16"), "x.csv: this text is written in UTF-16; save it as UTF-8"),
    "swapped columns": (
        b"120,0\n117,6\n113,12\n110,18\n",
        "x.csv: the columns look swapped: the times read like speeds and the speeds rise like a clock; put the time",
    ),
    "swapped clock": (
        b"time,speed\n120,0:00\n117,0:06\n113,0:12\n110,0:18\n",
        "x.csv: the columns look swapped: the times read like speeds",
    ),
    "swapped clock without names": (b"120 0:00\n117 0:06\n113 0:12\n", "x.csv: the columns look swapped"),
    "no speed at all": (b"time,mood\n0,good\n6,better\n", "x.csv: no row has a speed that can be read"),
    "no readable speed": (b"0,12O\n6,11O\n12,1l3\n", "x.csv: no row has a speed that can be read; write one row"),
    "no time column": (
        b"speed,altitude,mark\n120,7000,\n118,7000,\n",
        "x.csv, row 1: there is no time column among speed, altitude, mark; name one column time",
    ),
    "no readable time": (
        b"time,speed\nearly,120\nlate,118\n",
        "x.csv: no row has a time that can be read; write times as 72, 1:12 or 0:01:12.",
    ),
    "unknown unit": (
        b"time,speed (furlongs)\n0,120\n6,118\n",
        "x.csv, row 1, speed (furlongs): the unit 'furlongs' is not known; write for example (kt).",
    ),
    "wrong unit": (
        b"time,speed (ft)\n0,120\n6,118\n",
        "x.csv, row 1, speed (ft): 'ft' measures length, not speed; write for example (kt).",
    ),
    "a very long line": (b"0,120," + b"x" * 200_000, "x.csv, row 1: the line is longer than 100,000 characters; write"),
    "table without a time": (
        b"IAS,RPM,OAT\nkt,rpm,C\n120,2400,8\n119,2400,8\n",
        "x.csv: there is no column that is known to be the time; name one column time, or say what its columns are.",
    ),
    "table with no readable time": (
        b"Time,IAS,RPM\ns,kt,rpm\nlate,120,2400\nlate,119,2400\n",
        "x.csv, row 3, Time: 'late' is not a time, nor are most cells of this column; write seconds, h:mm:ss or dates",
    ),
    "table with nothing but time": (
        b"Time,EGT,CHT\ns,degF,degF\n0,1390,380\n1,1391,381\n",
        "x.csv: no column of Time, EGT, CHT is known besides the time; name columns such as IAS (kt), or say what its",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_cannot_be_read_is_refused_in_one_sentence(case: str) -> None:
    data, beginning = REFUSED[case]
    with pytest.raises(BadInputError) as refusal:
        read_recording(data, "x.csv")
    sentence = str(refusal.value)
    assert sentence.startswith(beginning)
    assert sentence.endswith(".")
    assert "\n" not in sentence


def test_quotes_that_never_close_do_not_swallow_rows() -> None:
    recording = read_recording(b'Time,IAS,RPM\ns,kt,rpm\n"0,120,2400\n1,"119,2400\n2,118",2400\n', "x.csv")
    assert recording.channels["ias"].values * 3600 / 1852 == pytest.approx([120, 119, 118])


def test_a_file_over_the_limit_is_refused() -> None:
    with pytest.raises(BadInputError, match=r"^x\.csv: the file is larger than 10 bytes, the most that is taken in"):
        read_recording(b"0,120\n6,118\n", "x.csv", limit_bytes=10)
    assert len(read_recording(b"0,120\n6,118\n", "x.csv", limit_bytes=12)) == 2


KEPT: dict[str, tuple[str, str]] = {
    "a word for a speed": ("0,120\n6,fast\n12,113\n", "row 2, speed: 'fast' is not a number; it is kept as a note"),
    "a letter in a speed": ("0,120\n6,12O\n12,113\n", "row 2, speed: '12O' is not a number and is left blank"),
    "a negative speed": ("0,120\n6,-5\n12,113\n", "row 2, speed: '-5' is negative and is left blank"),
    "a cell of a thousand digits": (
        "0,120\n6," + "1" * 1000 + "\n12,113\n",
        f"row 2, speed: '{'1' * 57}...' is not a number",
    ),
    "NaN": ("0,120\n6,NaN\n12,113\n", "row 2, speed: 'NaN' is not a number and is left blank"),
    "infinity": ("0,120\n6,inf\n12,113\n", "row 2, speed: 'inf' is not a number and is left blank"),
    "a missing time": ("0,120\n,118\n12,113\n", "row 2, time: there is no time, so the row ',118' is not used"),
    "a wrong time": ("0,120\n0:61,118\n12,113\n", "row 2, time: '0:61' is not a time"),
    "a unit of something else": ("0,120\n6,118 ft\n12,113\n", "row 2, speed: '118 ft' is not a number"),
    "a speed that is no speed": ("0,120\n6,1180\n12,113\n", "row 2, speed: '1180' is not plausible as ias; it is kept"),
    "a time twice": ("0,120\n6,118\n6,117\n", "row 3, time: 6 s is called a second time (also in row 2)"),
    "a time out of order": ("0,120\n12,113\n6,118\n18,109\n", "row 3, time: 6 s is earlier than the row before it"),
    "an unknown column": ("time,speed,x\n0,120,1\n6,118,1\n", "1 column is not used: 'x'"),
    "a mark that is not clear": ("time,speed,mark\n0,120,gear maybe\n6,118,\n", "row 2, mark: 'gear maybe' is kept"),
    "a negative entry rate": ("flap,speed,entry rate\nup,59,-1\n", "row 2, entry rate: '-1' is negative"),
    "a weight without unit": ("flap,speed,weight\nup,59,2900\n", "column 'weight' (mass) has no unit"),
    "a negative time of travel": ("device,from,to,seconds\ngear,up,down,-6\n", "row 2, seconds: '-6' is negative"),
}


@pytest.mark.parametrize("case", KEPT)
def test_a_flaw_in_a_file_is_named_and_the_rest_is_read(case: str) -> None:
    text, beginning = KEPT[case]
    recording = read_recording(text.encode(), "x.csv")
    assert len(recording) >= 1
    assert any(notice.sentence.startswith(beginning) for notice in recording.notices)


def check(recording: Recording) -> None:
    """What holds for every recording."""
    n = len(recording)
    assert n > 0
    assert recording.rows.shape == (n,)
    assert len(set(recording.rows.tolist())) == n
    for key, channel in recording.channels.items():
        assert channel.quantity == key
        assert channel.values.shape == (n,)
        assert not np.any(np.isinf(channel.values))
    assert all(len(words) == n for words in recording.texts.values())
    if recording.time_s is not None:
        assert recording.time_s.shape == (n,)
        assert recording.time_s[0] == 0.0
        assert np.all(np.diff(recording.time_s) >= 0.0)
        assert np.isfinite(recording.time_s[-1])
        assert all(0.0 <= mark.time_s <= recording.time_s[-1] for mark in recording.marks)
    assert {mark.row for mark in recording.marks} <= set(recording.rows.tolist())
    for notice in recording.notices:
        assert notice.sentence
        assert "\n" not in notice.sentence
        assert isinstance(notice.severity, Severity)
    marks_from_channels(recording)


def one_sentence(refusal: BadInputError) -> bool:
    sentence = str(refusal)
    return sentence.startswith("x.csv") and sentence.endswith(".") and "\n" not in sentence


def read_or_refuse(data: bytes) -> None:
    for read in (propose_mapping, read_recording):
        refusal, answer = None, None
        try:
            answer = read(data, "x.csv")
        except BadInputError as problem:
            refusal = problem
        assert refusal is None or one_sentence(refusal)
        if isinstance(answer, Recording):
            check(answer)


@given(st.binary(max_size=300))
def test_any_bytes(data: bytes) -> None:
    read_or_refuse(data)


@given(st.text(max_size=300))
def test_any_text(text: str) -> None:
    read_or_refuse(text.encode("utf-8", "surrogatepass"))


CELLS = [
    *("", "0", "1", "-", "0:06", "59:54", "0:00:01", "10:00:00 PM", "2026-05-04T10:00:00Z", "2026-02-31", "4.5.2026"),
    *("118", "12O", "-5", "nan", "inf", "1e999", "9" * 15, "1,5", "12:99", "118 kt", "7,000 ft", "²", "٣"),
    *("gear down", "flaps full", "stable", "UP", "TRANSIT", "time", "speed", "IAS (kt)", "ias_kt", "flap", "gear"),
    *("device", "seconds", "Date", "mark", "OAT", "kt", "s", "h:mm:ss", "°C", "(mph)", '"', "'a", 'a"b', '"a', "#"),
    *("# x: y", "%", "//", "é", "\x0b", "\x0c", "\u2028", "\x85", "\ufeff"),
]


@given(
    st.lists(st.lists(st.sampled_from(CELLS), min_size=1, max_size=6), min_size=1, max_size=12),
    st.sampled_from([",", ";", "\t", " ", "  ", ", "]),
    st.sampled_from(["\n", "\r\n", "\r", "\n\n"]),
    st.booleans(),
)
def test_any_table_of_odd_cells(rows: list[list[str]], separator: str, end: str, closed: bool) -> None:
    read_or_refuse((end.join(separator.join(row) for row in rows) + (end if closed else "")).encode())


GOOD_FILES = [
    "# device: gear\ntime, speed, mark\n" + "".join(f"0:{6 * i:02d}, {120 - 2 * i},\n" for i in range(9)),
    "Time,IAS,Altitude,Gear,Marker\ns,kt,ft,,\n" + "".join(f"{i},{120 - i},7000,UP,\n" for i in range(9)),
    "Date;Time;IAS (kt);OAT (degC)\n" + "".join(f"2026-05-04;10:00:0{i};120,{i};8\n" for i in range(9)),
    "flap, speed, entry rate, weight (lb), gear\n" + "".join(f"up, {59 - i}, 1, 2900, up\n" for i in range(5)),
    "device, from, to, seconds\n" + "".join(f"gear, up, down, 6.{i}\n" for i in range(5)),
]


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(
    st.sampled_from(GOOD_FILES),
    st.lists(
        st.tuples(st.floats(0.0, 1.0), st.integers(0, 4), st.one_of(st.sampled_from(CELLS), st.text(max_size=3))),
        max_size=6,
    ),
)
def test_any_damage_to_a_good_file(text: str, damages: list[tuple[float, int, str]]) -> None:
    for where, removed, inserted in damages:
        at = int(where * len(text))
        text = text[:at] + inserted + text[at + removed :]
    read_or_refuse(text.encode("utf-8", "surrogatepass"))


@given(st.sampled_from(GOOD_FILES), st.integers(0, 400))
def test_a_file_cut_off_anywhere(text: str, length: int) -> None:
    read_or_refuse(text[:length].encode())


def test_memory_stays_in_proportion_to_the_file() -> None:
    rows = "".join(f"{i / 10:.1f},{100 + i % 7}.5,{7000 + i % 30},8.0,22.1,2400,1.5,0\n" for i in range(100_000))
    data = ("Time,IAS,Altitude,OAT,MAP,RPM,Pitch,Gear\ns,kt,ft,C,inHg,rpm,deg,\n" + rows).encode()
    tracemalloc.start()
    try:
        read_recording(data, "x.csv")
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 12 * len(data)
