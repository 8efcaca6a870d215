"""The chapter of handbooks: empty, computed once, shown with its cautions, out of date when the register changes."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from starlette.testclient import TestClient

from wringout.services.findings.reduce import no_progress
from wringout.services.fleet_demonstration import FAMILY, put_demo_fleet
from wringout.services.opening import open_studies
from wringout.services.register.agreement_kept import kept_agreement
from wringout.services.register.entries import list_register, remove_from_register
from wringout.services.study.studies import make_study
from wringout.web.app import make_app
from wringout.web.settings import Settings
from wringout.web.work.studies import agree_handbooks_of


def clock() -> datetime:
    return datetime(2027, 5, 1, 12, tzinfo=UTC)


def test_the_agreement_is_kept_until_the_register_changes(tmp_path: Path) -> None:
    database = tmp_path / "studies.db"
    with open_studies(database, clock) as store:
        slug = make_study(store, "Which first", "Gear or flaps first?", {}).slug
    with TestClient(make_app(Settings(database, clock)), base_url="http://127.0.0.1:8000") as client:
        store, at = client.app.state.site.store, f"/studies/{slug}/handbooks"  # type: ignore[attr-defined]
        assert "The register is empty" in client.get(at).text
        put_demo_fleet(store)
        assert "are not read yet" in client.get(at).text
        agree_handbooks_of(database, no_progress, slug, FAMILY, "2027-05-01")
        page = client.get(at).text
        kept = kept_agreement(store, slug, FAMILY, clock().date())
        assert kept is not None
        assert kept.current
        assert all(str(row["model"]) in page for row in kept.body["rows"])
        assert page.count("ask the type-certificate holder or your instructor") >= len(kept.body["anomalies"]) - 1
        remove_from_register(store, list_register(store)[0].key)
        assert "The register has changed since" in client.get(at).text
