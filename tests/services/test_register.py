"""The register and the fleet as a user has them: imported, asked, flown, passed on, merged."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from tools import make_demo_fleet
from wringout.errors import BadInputError, ConflictError, FitError, NotFoundError
from wringout.handbooks.agreement import Kind
from wringout.handbooks.entry import table_of
from wringout.services.fleet.findings import list_findings, put_findings, quantities
from wringout.services.fleet.pooling import pool_findings, pooled_document
from wringout.services.fleet.sharing import export_fleet, list_conflicts, merge_fleet, origins, resolve_conflict
from wringout.services.fleet_demonstration import FAMILY, MODELS, put_demo_fleet
from wringout.services.opening import open_studies
from wringout.services.privacy import Cleaner
from wringout.services.publishing.printed import printed_orders
from wringout.services.register.documents import agreement_document, checked_document, holding_document
from wringout.services.register.entries import (
    attach,
    check_register,
    export_register,
    import_register,
    list_register,
    put_in_register,
    show_entry,
    what_holds,
)
from wringout.services.register.printed_orders import FlyingOptions, family_agreement, read_printed
from wringout.store import Store

DAY = date(2026, 11, 26)


def _clock() -> datetime:
    return datetime(2026, 11, 26, 12, tzinfo=UTC)


def _store(folder: Path, name: str) -> Store:
    return open_studies(folder / name, _clock)


@pytest.fixture
def fleet(tmp_path: Path) -> Iterator[Store]:
    with _store(tmp_path, "fleet.db") as store:
        put_demo_fleet(store)
        yield store


@pytest.mark.parametrize(
    ("airplane", "parts"),
    [
        ("Quillback 230 (invented)", ["QS-230-7", "QH-230-3", "QH-230-3"]),
        ("quillback 230a", ["QH-230A-1"]),
        ("Quillback 2300", []),
        ("Perdix 100", []),
    ],
)
def test_a_brief_cites_the_handbooks_of_its_own_model(fleet: Store, airplane: str, parts: list[str]) -> None:
    with fleet.reading() as view:
        found = printed_orders(view, airplane, DAY)
        assert printed_orders(view, airplane, date(1950, 1, 1)) == ()
    assert [one.part_number for one in found] == parts
    assert [one.revision for one in found if one.superseded_by] == (["A"] if len(parts) == 3 else [])


def test_the_files_of_the_demo_fleet_are_what_the_tool_makes_now() -> None:
    for name, text in make_demo_fleet.all_files().items():
        assert (make_demo_fleet.FLEET / name).read_text(encoding="utf-8") == text, name
    assert {made.model: made.file for made in make_demo_fleet.VARIANTS} == MODELS


def test_the_demo_fleet_is_put_in_once_and_all_of_it_is_invented(fleet: Store) -> None:
    again = put_demo_fleet(fleet)
    assert (again.entries, again.findings) == (0, 0)
    assert all(item.entry.invented for item in list_register(fleet))
    assert all(f.invented and "invented" in f.airplane + f.pilot for f in list_findings(fleet))
    assert {item.entry.model for item in list_register(fleet)} == set(MODELS)


def test_what_holds_and_what_is_irregular(fleet: Store) -> None:
    now = what_holds(fleet, "quillback 230", "1100", DAY)
    then = what_holds(fleet, "Quillback 230", "1100", date(1970, 1, 1))
    assert [e.revision for e in now.entries] == ["B"]
    assert [e.revision for e in then.entries] == ["A"]
    found = checked_document(check_register(fleet, DAY))
    assert [(i["kind"], i["serials"]) for i in found["irregular"]] == [
        ("overlap", "1200-1210"),
        ("gap", "1251-1299"),
        ("gap", "1310"),
    ]
    assert found["revisions"][0]["order_changed"] is True
    assert "approved manual" in " ".join(holding_document(now)["cautions"])
    with pytest.raises(NotFoundError, match="Quillback 180"):
        what_holds(fleet, "Nothing", "1", DAY)


def test_an_import_with_a_bad_row_keeps_nothing_unless_asked(tmp_path: Path, fleet: Store) -> None:
    text = export_register(fleet).replace("1961-03-01", "long ago")
    with _store(tmp_path, "new.db") as store:
        refused = import_register(store, text.encode(), "r.csv")
        assert (refused.kept, len(refused.errors), list_register(store)) == (False, 1, ())
        assert str(refused.errors[0]).startswith("r.csv, row 2, date: ")
        kept = import_register(store, text.encode(), "r.csv", good_rows=True)
        assert (kept.changed, len(kept.errors)) == (6, 1)
        whole = import_register(store, export_register(fleet, as_json=True).encode(), "r.json")
        assert whole.changed == 1
        assert export_register(store) == export_register(fleet)


def test_an_edit_keeps_its_revisions_and_notices_another_window(fleet: Store) -> None:
    item = list_register(fleet, "Quillback 230A")[0]
    table = {**table_of(item.entry), "note": "Looked at again."}
    changed = put_in_register(fleet, table, item.key, item.revision)
    assert changed.revision == item.revision + 1
    with pytest.raises(ConflictError):
        put_in_register(fleet, {**table, "note": "Other."}, item.key, item.revision)
    found, revisions = show_entry(fleet, item.key[:6])
    assert (found.entry.note, len(revisions)) == ("Looked at again.", 2)


def test_an_attachment_lies_in_the_vault_and_is_never_exported(fleet: Store, tmp_path: Path) -> None:
    page = tmp_path / "page.pdf"
    page.write_bytes(b"%PDF-1.4 invented")
    key = list_register(fleet, "Quillback 180")[0].key
    with page.open("rb") as stream:
        found = attach(fleet, key, stream, page.name)
    (sha,) = found.entry.attachments
    assert (fleet.place.recordings / sha[:2] / sha).read_bytes() == page.read_bytes()
    shared = export_fleet(fleet)
    assert sha not in shared.text
    assert {"what": "attachments", "count": 1, "instead": "left out"} in shared.removed


def test_the_family_is_flown_and_its_anomalies_explained(fleet: Store) -> None:
    found, variants = family_agreement(fleet, FAMILY, DAY, FlyingOptions(draws=300))
    document = agreement_document(found, variants)
    rows = {(row["model"], row["serials"]): row for row in document["rows"]}
    assert rows["Quillback 230A", "2001 and on"]["standing"] == "prints none"
    assert all(v.problem == "" and v.flown is not None for v in variants)
    kinds = {item.kind for item in found.anomalies}
    assert kinds >= {Kind.REVERSED, Kind.CHANGED, Kind.COSTS, Kind.KEEPS_A_MARGIN, Kind.PRINTS_NONE}
    for item in found.anomalies:
        assert "type-certificate holder or your instructor" in item.ask
        assert not re.search(r"\b(wrong|should|instead fly|depart|safe)\b", f"{item.sentence} {item.ask}")
    assert {row["standing"] for row in document["rows"]} == {"agrees", "costs more", "depends", "prints none"}
    for variant in variants:
        assert variant.flown is not None
        assert [law.law for law in variant.flown.laws] == ["hold attitude", "hold speed", "level, then climb"]
        for law in variant.flown.laws:
            flown = [order.median for order in law.printed if order.acceptable and order.complete]
            assert law.best is None or all(median <= law.best.median for median in flown)
    assert json.dumps(document, allow_nan=False)


def test_what_cannot_be_flown_is_said_and_the_rest_goes_on(fleet: Store) -> None:
    put_in_register(
        fleet,
        {
            "family": FAMILY,
            "model": "Quillback 300",
            "serials": "all",
            "document": "Draft",
            "date": "2000-01-01",
            "steps": "power full; gear up",
            "invented": True,
        },
    )
    (variant,) = read_printed(fleet, "Quillback 300", DAY)
    assert "is not known" in variant.problem
    with pytest.raises(BadInputError):
        read_printed(fleet, "Quillback 300", DAY, options=FlyingOptions(draws=1))


def test_findings_are_pooled_and_the_odd_airplane_is_named(fleet: Store) -> None:
    found = pool_findings(fleet, "Quillback 230", "area.gear.middle")
    assert found.pooled.count == 6
    assert any("230-6 lies further off" in remark for remark in found.remarks)
    assert "next airplane of the type is expected between" in found.answer
    low, high = found.pooled.prediction_95 or (0.0, 0.0)
    assert low < found.pooled.interval_95[0] < found.pooled.interval_95[1] < high
    document = pooled_document(found)
    assert sum(row["weight"] for row in document["forest"]) == pytest.approx(1.0, abs=1e-6)
    assert json.dumps(document, allow_nan=False)
    assert ("Quillback 230", "area.gear.middle", "drag area of gear, middle", 6) in quantities(fleet)
    with pytest.raises(NotFoundError):
        pool_findings(fleet, "Quillback 230", "nothing")
    one = dict(_body(fleet), airplane="only", model="Lonely")
    put_findings(fleet, [one])
    with pytest.raises(FitError):
        pool_findings(fleet, "Lonely", one["quantity"])


def _body(store: Store) -> dict[str, object]:
    f = list_findings(store)[0]
    return {
        "quantity": f.quantity,
        "label": f.label,
        "unit": f.unit,
        "value": f.value,
        "standard_uncertainty": f.standard_uncertainty,
        "family": f.family,
        "model": f.model,
        "airplane": f.airplane,
        "pilot": f.pilot,
        "made_on": "2026-05-17",
        "source": {"study": "private-name", "inputs_hash": "abc"},
        "note": "",
    }


def test_an_export_holds_no_names_registrations_or_positions_and_says_so(fleet: Store) -> None:
    secret = dict(
        _body(fleet),
        airplane="D-EXYZ",
        pilot="Karla Beispiel",
        note="flown at Testfeld by Karla",
        label="gear of N123AB at 48.13712 N, ask k.b@example.org or +49 89 1234567",
    )
    put_findings(fleet, [secret])
    done = export_fleet(fleet)
    for word in (
        "D-EXYZ",
        "Karla",
        "Testfeld",
        "N123AB",
        "48.137",
        "example.org",
        "1234567",
        "private-name",
        "2026-05-17",
    ):
        assert word not in done.text, word
    assert "48°N" in done.text
    assert "2026-05" in done.text
    said = {item["what"]: item["count"] for item in done.removed}
    assert {"airplane names", "pilot names", "study names", "days of dates", "free notes", "registrations"} <= set(said)
    assert {"mail addresses", "telephone numbers", "positions"} <= set(said)
    assert json.loads(done.text)["removed"] == list(done.removed)
    assert export_fleet(fleet).text == done.text  # the same names again, so that a later export fits
    assert "Karla Beispiel" in export_fleet(fleet, keep=["pilots"]).text
    with pytest.raises(BadInputError, match="cannot be kept"):
        export_fleet(fleet, keep=["everything"])


def test_part_numbers_and_serials_are_no_registrations() -> None:
    cleaner = Cleaner(b"x")
    for text in (
        "QH-230-3",
        "serials QB-101 thru QB-250",
        "Owner's Handbook Quillback 180",
        "FAA-H-8083-3C",
        "0.288 ± 0.0960 ft2",
    ):
        assert cleaner.text(text) == text
    for text in ("N1", "N123AB", "G-ABCD", "D-EABC", "HB-ABC", "C-FABC", "9A-ABC"):
        assert cleaner.text(f"seen on {text} today") == "seen on [registration] today"
    assert cleaner.text("at 48.13712, 11.57543 or -33.946 S") == "at 48°, 11° or -33°S"


def test_what_comes_back_by_way_of_others_counts_once(fleet: Store, tmp_path: Path) -> None:
    before = len(list_findings(fleet))
    with _store(tmp_path, "other.db") as other:
        merge_fleet(other, export_fleet(fleet).text.encode(), "ours.json")
        put_findings(other, [dict(_body(fleet), airplane="theirs")])
        back = merge_fleet(fleet, export_fleet(other).text.encode(), "back.json")
    assert (back.new, back.conflicts) == (1, ())
    assert len(list_findings(fleet)) == before + 1
    own = merge_fleet(fleet, export_fleet(fleet).text.encode(), "own.json")
    assert (own.new, own.conflicts) == (0, ())


def test_libraries_merge_with_conflicts_shown_and_provenance_kept(fleet: Store, tmp_path: Path) -> None:
    shared = export_fleet(fleet).text.encode()
    with _store(tmp_path, "other.db") as other:
        first = merge_fleet(other, shared, "theirs.json")
        assert (first.same, first.conflicts, first.errors) == (0, (), ())
        assert first.new == 7 + 5 + 38
        again = merge_fleet(other, shared, "theirs.json")
        assert (again.new, again.same) == (0, first.new)
        key = list_register(other, "Quillback 200")[0].key
        with other.reading() as view:
            assert [item["file"] for item in origins(view, "handbook", key)] == ["theirs.json"]
        pooled = pool_findings(other, "Quillback 230", "area.gear.middle").pooled
        ours = pool_findings(fleet, "Quillback 230", "area.gear.middle").pooled  # the same, airplanes in another order
        assert (pooled.mean, pooled.tau, pooled.count) == pytest.approx((ours.mean, ours.tau, ours.count), rel=1e-6)
        assert pooled.prediction_95 == pytest.approx(ours.prediction_95, rel=1e-6)
        changed = shared.replace(b"Open the throttle, gear first, then the flaps.", b"Gear first.")
        done = merge_fleet(other, changed, "later.json")
        assert len(done.conflicts) == 1
        (conflict,) = list_conflicts(other)
        assert conflict.fields == ("paraphrase",)
        assert list_register(other, "Quillback 200")[0].entry.paraphrase.startswith("Open")
        resolve_conflict(other, conflict.key, take_theirs=True)
        assert list_conflicts(other) == ()
        assert list_register(other, "Quillback 200")[0].entry.paraphrase == "Gear first."
        with pytest.raises(NotFoundError):
            resolve_conflict(other, conflict.key, take_theirs=False)


@pytest.mark.parametrize(
    "change",
    [
        lambda d: d["findings"][0].update(value="x"),
        lambda d: d["findings"][0].update(standard_uncertainty=0),
        lambda d: d["register"][0].update(date="?"),
        lambda d: d["variants"][0].update(airplane="format = 3"),
        lambda d: d.update(findings=3),
        lambda d: d["findings"].append(7),
    ],
)
def test_a_fleet_file_with_an_error_keeps_nothing(fleet: Store, tmp_path: Path, change: object) -> None:
    document = json.loads(export_fleet(fleet).text)
    change(document)  # type: ignore[operator]
    with _store(tmp_path, "other.db") as other:
        done = merge_fleet(other, json.dumps(document).encode(), "bad.json")
        assert len(done.errors) == 1
        assert str(done.errors[0]).startswith("bad.json, ")
        assert list_register(other) == ()
        with pytest.raises(BadInputError):
            merge_fleet(other, b"{}", "bad.json")
