"""Any study that can be stored can be carried in a bundle and comes back as it was."""

from __future__ import annotations

import dataclasses
import io
import tempfile
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.store.packing import exported, taken_in
from tests.store.samples import everything, open_at
from tests.store.test_documents import TEXTS, VALUES
from wringout import store as kept

LINES = st.text(st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp"]), min_size=1, max_size=20).filter(str.strip)
DOCUMENTS = st.dictionaries(TEXTS, VALUES, max_size=4)
FINITE = st.floats(allow_nan=False, allow_infinity=False)
SPANS = st.none() | st.tuples(FINITE, FINITE).filter(lambda span: span[0] < span[1])
PLAIN = st.dictionaries(LINES, TEXTS | st.booleans() | FINITE | st.integers(-(2**62), 2**62), max_size=3)
NAMES = LINES.filter(lambda name: name.replace("\\", "/").rstrip("/").rpartition("/")[2].strip())


@st.composite
def contents(draw: st.DrawFn) -> dict[str, Any]:
    recordings = draw(
        st.lists(st.tuples(st.binary(min_size=1, max_size=50), NAMES, TEXTS, st.none() | DOCUMENTS), max_size=3)
    )
    runs = st.tuples(LINES, LINES, st.integers(0, max(len(recordings) - 1, 0)), SPANS, DOCUMENTS, TEXTS)
    results = st.tuples(
        st.sampled_from(kept.ResultKind),
        st.integers(0, 2**63 - 1),
        DOCUMENTS,
        DOCUMENTS,
        st.none() | st.binary(max_size=20),
    )
    return {
        "study": draw(st.tuples(LINES, TEXTS, PLAIN, st.booleans())),
        "airplanes": draw(st.lists(TEXTS, max_size=3)),
        "recordings": recordings,
        "runs": draw(st.lists(runs, max_size=3, unique_by=lambda run: run[0])) if recordings else [],
        "results": draw(st.lists(results, max_size=2)),
        "edits": draw(st.lists(TEXTS, max_size=2)),
    }


def build(store: kept.Store, what: dict[str, Any]) -> kept.Study:
    """Store a study with all of ``what``."""
    with store.writing() as work:
        study = kept.add_study(work, *what["study"])
        for text in what["airplanes"]:
            kept.put_airplane(work, study.id, text)
    hashes = []
    for data, name, note, mapping in what["recordings"]:
        taken = kept.take_in(store, study.id, io.BytesIO(data), name, note).recording
        hashes.append(taken.recording.sha256)
        with store.writing() as work:
            kept.edit_recording(work, dataclasses.replace(taken, mapping=mapping))
    with store.writing() as work:
        for key, method, index, span, setup, reason in what["runs"]:
            run = kept.add_run(work, study.id, key, method, hashes[index], span, setup)
            if reason.strip():
                kept.edit_run(work, dataclasses.replace(run, state=kept.RunState.SET_ASIDE, reason=reason))
        for kind, seed, chosen, body, draws in what["results"]:
            kept.put_result(work, study.id, kind, "0" * 64, seed, "0.1.0", chosen, body, draws)
        for text in what["edits"]:
            kept.edit_study(work, dataclasses.replace(study, question=text))
    with store.reading() as view:
        return kept.get_study(view, study.slug)


@settings(max_examples=60, deadline=None)
@given(contents())
def test_any_study_comes_back_as_it_was(what: dict[str, Any]) -> None:
    with tempfile.TemporaryDirectory() as folder, open_at(Path(folder) / "a.db") as store:
        study = build(store, what)
        data = exported(store, study)
        assert exported(store, study) == data
        with open_at(Path(folder) / "b.db") as other:
            taken = taken_in(other, data)
            assert everything(other, taken.study) == everything(store, study)
            assert exported(other, taken.study) == data
            assert taken_in(other, data).already_there
