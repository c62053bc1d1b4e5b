"""The shell: headers, navigation, search, faults; nothing is read before the first request."""

import json
import logging

import pytest

from dashboard import shell
from dashboard.app import create_app
from tests.dashboard.edition_maker import HOSTILE, make_edition
from tests.dashboard.page_reader import Reader, found


def test_every_answer_carries_the_headers(full):
    for path in ("/", "/_dash-layout", "/assets/b_base.css", "/nothing.txt", "/healthz"):
        with full.client.get(path) as answer:
            headers = answer.headers
        assert headers["X-Content-Type-Options"] == "nosniff", path
        policy = headers["Content-Security-Policy"]
        assert "default-src 'self'" in policy
        assert "'unsafe-eval'" not in policy
        assert "script-src 'self' 'sha256-" in policy
        assert "http" not in policy


def test_the_page_shell_names_no_address_outside(full):
    text = full.client.get("/").get_data(as_text=True)
    assert "//cdn" not in text
    assert "https://" not in text.replace("https://localhost", "")


@pytest.mark.parametrize(("site", "status"), [
    ("cross-site", 403), ("same-site", 403), ("same-origin", 200), ("none", 200)])
def test_a_write_started_by_another_site_is_refused(full, site, status):
    body = {"output": "shell-search.data", "outputs": {"id": "shell-search", "property": "data"},
            "inputs": [{"id": "shell-search", "property": "searchValue", "value": "HD"}],
            "changedPropIds": ["shell-search.searchValue"], "state": []}
    answer = full.client.post("/_dash-update-component", json=body,
                              headers={"Sec-Fetch-Site": site})
    assert answer.status_code == status


def test_health_tells_process_and_edition_apart(tmp_path):
    app = create_app(tmp_path)
    client = app.server.test_client()
    assert client.get("/healthz").status_code == 200
    assert client.get("/readyz").status_code == 503
    make_edition(tmp_path, "empty")
    assert client.get("/readyz").get_json() == {"edition": 1}


def test_a_store_without_an_edition_is_said_on_every_page(tmp_path, caplog):
    reader = Reader(tmp_path)
    with caplog.at_level(logging.CRITICAL, "braidlife.pages"):
        for address in ("/places", "/places/x"):
            text = reader.text(address)
            assert "This store holds no edition yet: load files." in text
            assert "Load files" in text
        assert "this store is still empty" in reader.text("/")  # and leads on from there


def test_a_fault_shows_a_page_and_never_a_traceback(full, monkeypatch, caplog):
    from dashboard.queries import month

    def fail():
        raise RuntimeError("secret detail /srv/store")

    monkeypatch.setattr(month, "out_this_month", fail)
    with caplog.at_level(logging.CRITICAL, "braidlife.pages"):
        text = full.text("/")
    assert "could not be shown" in text
    assert "secret" not in text


def test_an_unknown_address_has_a_way_back(full):
    layout = full.layout("/no-such-page")
    assert "no page at this address" in json.dumps(layout)
    assert found(layout, "Link")[0]["href"] == "/"


def test_navigation_lists_pages_in_their_order(full):
    with full.app.server.test_request_context("/"):
        names = [page["name"] for page in shell.nav_pages()]
    assert names[:2] == ["This month", "Places"]
    assert "One place" not in names


@pytest.mark.parametrize(("text", "wanted"), [
    ("hd-1", "/places/HD-1%20discharge"), ("line 2", "/places?line=line+2&site=Alderbeck"),
    ("C-304-OP1-25", "/spares?text=C-304-OP1-25"), ("h10002", "/places/HD-1%20discharge"),
    ("zzz", "/places?text=zzz")])
def test_search_finds_places_lines_hoses_and_parts(full, text, wanted):
    with full.app.server.test_request_context("/"):
        offered = [item["value"] for group in shell.options(text) for item in group["items"]]
    assert wanted in offered


@pytest.mark.parametrize("text", [*HOSTILE, " ", "%", "_"])
def test_search_takes_any_text(hostile, text):
    with hostile.app.server.test_request_context("/"):
        for group in shell.options(text):
            assert all(item["value"].startswith(("/places", "/spares")) for item in group["items"])
