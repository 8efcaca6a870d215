"""The register's pages through the guard: kept, searched, refused with what was typed, asked, taken in."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
from starlette.testclient import TestClient

from wringout.web.app import make_app
from wringout.web.settings import Settings


def clock() -> datetime:
    return datetime(2027, 5, 1, 12, tzinfo=UTC)


@pytest.fixture
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    app = make_app(Settings(tmp_path_factory.mktemp("bench") / "studies.db", clock))
    with TestClient(app, base_url="http://127.0.0.1:8000") as opened:
        yield opened


def send(client: TestClient, address: str, files: object = None, **fields: str) -> tuple[int, str]:
    found = re.search(r'name="form-token" value="([0-9a-f]+)"', client.get("/register").text)
    assert found is not None
    answer = client.post(address, data={"form-token": found.group(1), **fields}, files=files)  # type: ignore[arg-type]
    return answer.status_code, answer.text


def entry_address(client: TestClient, words: str) -> str:
    found = re.search(r"/register/entries/[0-9a-f]{16}", client.get("/register", params={"q": words}).text)
    assert found is not None
    return found.group(0)


ENTRY = {
    "family": "Tern",
    "model": "Tern 9",
    "serials": "1-90",
    "document": "Pilot's Notes",
    "date": "1960-02-01",
    "prints": "steps",
    "steps": "power full; gear up; flaps up",
}


def test_an_empty_register_says_what_to_do_next(client: TestClient) -> None:
    page = client.get("/register").text
    assert "The register is empty" in page
    assert "/register/new" in page


def test_a_refused_entry_keeps_what_was_typed(client: TestClient) -> None:
    status, page = send(client, "/register/new", **(ENTRY | {"date": "spring 1960", "steps": "power full; gear <up>"}))
    assert status == 422
    assert "spring 1960" in page
    assert "gear &lt;up&gt;" in page
    assert "is no date" in page


def test_an_entry_is_kept_changed_removed_and_brought_back(client: TestClient) -> None:
    assert send(client, "/register/new", **ENTRY)[0] == 200
    at = entry_address(client, "tern")
    changed = ENTRY | {"steps": "power full; flaps up; gear up"}
    assert "power full; flaps up; gear up" in send(client, at, **changed, was="1")[1]
    status, page = send(client, at, **ENTRY, was="1")
    assert status == 409  # made from revision 1, the newest is 2
    assert 'name="was" value="2"' in page
    assert "Bring it back" in send(client, f"{at}/remove")[1]
    assert "No entry" not in send(client, f"{at}/restore")[1]
    assert "Tern 9" in client.get("/register").text


def test_what_holds_depends_on_the_day(client: TestClient) -> None:
    send(client, "/register/invented")
    asked = {"model": "Quillback 230", "serial": "1100"}
    before = client.get("/register/holds", params=asked | {"on": "1970-01-01"}).text
    after = client.get("/register/holds", params=asked | {"on": "1975-01-01"}).text
    assert "revision A of 1966-05-01" in before
    assert "revision B of 1974-11-20" in after
    assert client.get("/register/holds", params=asked | {"on": "someday"}).status_code == 422
    assert "both hold for serials 1200-1210" in client.get("/register/check").text


def test_every_model_is_offered_and_the_family_stays_chosen(client: TestClient) -> None:
    head = "family,model,serials,document,date,steps\n"
    rows = "".join(f"Tern,Tern {n},1-90,Notes {n},1960-02-01,gear up; flaps up\n" for n in range(120))
    rows += "Perdix,Tern 7,1-90,Other notes,1961-02-01,flaps up; gear up\n"
    send(client, "/register/import", files={"file": ("t.csv", head + rows, "text/csv")})
    page = client.get("/register/holds").text
    assert len(re.findall(r'<option value="Tern \d+">', page)) == 120
    asked = {"family": "Perdix", "model": "Tern 7", "serial": "5", "on": "1970-01-01"}
    page = client.get("/register/holds", params=asked).text
    assert "Other notes" in page
    assert "Notes 7" not in page
    assert "<option selected>Perdix</option>" in page
    assert re.findall(r'<option value="(Tern \d+)">', page) == ["Tern 7"]
    nothing = client.get("/register/holds", params=asked | {"serial": "500"}).text
    assert "/register/new?model=Tern%207&amp;family=Perdix" in nothing


def test_errors_by_row_keep_the_text(client: TestClient) -> None:
    text = "family,model,serials,document,date,steps\nTern,Tern 9,1-90,Notes,1960-02-01,gear up\nTern,,1,N,1960,x\n"
    status, page = send(client, "/register/import", text=text, name="typed.csv")
    assert status == 422
    assert "typed.csv, row 3" in page
    assert "Tern,Tern 9,1-90,Notes,1960-02-01,gear up" in page
    assert "The register is empty" in client.get("/register").text
    status, page = send(client, "/register/import", text=text, name="typed.csv", good_rows="yes")
    assert "1 good row is kept" in page
    assert "Tern 9" in client.get("/register").text


def test_many_entries_are_searched_and_paged(client: TestClient) -> None:
    head = "family,model,serials,document,date,steps\n"
    rows = "".join(f"Tern,Tern {n},1-90,Notes {n},1960-02-01,gear up; flaps up\n" for n in range(700))
    assert send(client, "/register/import", files={"file": ("t.csv", head + rows, "text/csv")})[0] == 200
    page = client.get("/register", params={"q": "tern notes 432"}).text
    assert "One entry of 700 holds “tern notes 432”" in page
    assert "Tern 432" in page
    assert "51 to 100 of 700" in client.get("/register", params={"from": "50"}).text
    assert client.get("/register/register.csv").text.count("\n") == 701


def test_an_attachment_is_handed_out_as_a_file(client: TestClient) -> None:
    send(client, "/register/new", **ENTRY)
    at = entry_address(client, "tern")
    page = send(client, f"{at}/attach", files={"file": ("page <4>.html", b"<script>x</script>", "text/html")})[1]
    assert "page &lt;4&gt;.html" in page
    found = re.search(r"/register/attachments/[0-9a-f]{64}", page)
    assert found is not None
    answer = client.get(found.group(0))
    assert answer.content == b"<script>x</script>"
    assert answer.headers["content-type"] == "application/octet-stream"
    assert answer.headers["content-disposition"].startswith("attachment")
