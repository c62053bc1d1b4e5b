"""Every address and callback for every role; what pages show to whom."""

import re

import pytest

from dashboard import actions
from dashboard.accounts import door
from dashboard.app import create_app
from etl import audit
from etl.account import book
from tests.accounts.house import HERE, NAMES, ROLES
from tests.bench.attack_viewer import AsViewer
from tests.bench.visitors import body_of
from tests.dashboard.edition_maker import make_edition
from tests.dashboard.page_reader import _targets

NEEDED = {("POST", "/check-file"): "recorder", ("POST", "/incoming"): "keeper",
          ("GET", "/accounts"): "keeper", ("POST", "/accounts"): "keeper"}
WRITING = {"entry-tick": "recorder", "enter-said": "recorder", "decide-said": "recorder",
           "record-screen": "recorder", "start-work": "keeper"}
"""Callbacks that write: progress with its button, inspections with corrections and swaps, trial
decisions, the record of a teardown, files. One more belongs here with its role."""
FREE = {"/sign-in", "/invitation/x", "/assets/b_base.css", "/health", "/healthz", "/ready",
        "/readyz", "/_favicon.ico"}


def addresses(app):
    """Every address that the server knows, with its methods; parts filled in."""
    known = {"table": "lives", "kind": "csv", "name": "x.png", "filename": "b_base.css",
             "path": "places", "token": "x", "package_name": "dash", "fingerprinted_path": "x.js"}
    for rule in app.server.url_map.iter_rules():
        path = re.sub(r"<(?:[^:<>]+:)?([^<>]+)>", lambda found: known[found[1]], rule.rule)
        for method in rule.methods - {"OPTIONS", "HEAD"}:
            yield method, path


def test_every_address_asks_for_its_role(house):
    _, app, clients = house
    tried = list(addresses(app))
    assert len(tried) > 20
    for method, path in tried:
        if path == "/sign-out" or (method, path) == ("POST", "/sign-in"):
            continue  # the one ends what is tested here, the other is no door to anything
        needed = None if path in FREE else NEEDED.get((method, path), "viewer")
        for number, role in enumerate(ROLES):
            answer = clients[role].open(path, method=method, headers=HERE)
            status = answer.status_code
            answer.close()
            refused = 401 if role is None else 403
            let_in = ROLES.index(needed) <= number
            # Past the door a body that is none may be refused by what stands behind.
            behind = (method, path) in NEEDED and method == "POST"
            assert (status != refused or (behind and status == 403)
                    if let_in else status == refused), (method, path, role, status)


def test_every_callback_asks_for_its_role(house, monkeypatch):
    _, app, clients = house
    monkeypatch.setattr("dashboard.questions.is_known", lambda *_: True)
    counts = dict.fromkeys(book.ROLES, 0)
    for key, listed in app.callback_map.items():
        if "callback" not in listed:
            continue
        ids = {item["id"] for item in [*listed["inputs"], *listed["state"]]}
        needed = ("viewer" if "entry-token" not in ids
                  else "keeper" if key.startswith("start-") else "recorder")
        counts[needed] += 1
        body = {"output": key, "outputs": _targets(key), "inputs": [], "state": [],
                "changedPropIds": []}
        for number, role in enumerate(ROLES):
            if number > 1 and number >= ROLES.index(needed):
                continue  # let in; what the callback itself makes of nothing is tested elsewhere
            status = clients[role].post("/_dash-update-component", json=body,
                                        headers=HERE).status_code
            if role is None:
                assert status == 401, key
            elif needed != "viewer":
                assert status == 403, (key, role)
            else:
                assert status not in (401, 403), (key, role)
    roles = {key.strip(".").split(".")[0]: door.role_of(listed, key)
             for key, listed in app.callback_map.items() if "callback" in listed}
    assert {name: role for name, role in roles.items() if role != "viewer"} == WRITING
    assert counts["viewer"] > 10
    assert counts["recorder"] >= 3
    assert counts["keeper"] >= 1


@pytest.mark.parametrize(("role", "needed", "is_let_in"), [
    ("viewer", "recorder", False), ("recorder", "recorder", True), ("recorder", "keeper", False),
    ("keeper", "keeper", True)])
def test_the_door_for_writing_asks_again(house, role, needed, is_let_in):
    _, app, clients = house
    cookie = clients[role].get_cookie("braidlife-session").value
    with app.server.test_request_context(
            "/", headers=HERE | {"Cookie": f"braidlife-session={cookie}"}):
        token = app.server.config[actions.KEY].token
        assert (actions.why_not(needed) is None) is is_let_in
        assert bool(actions.token(needed)) is is_let_in
        if is_let_in:
            actions.guard(token, needed)
            assert actions.name_of("Somebody else") == NAMES[role]
        else:
            with pytest.raises(actions.RefusedError):
                actions.guard(token, needed)


@pytest.mark.parametrize("path", [
    "/places/none", "/places/AC-2%20in", "/invitation/x/y", "/ACCOUNTS", "/accounts/",
    "/health/../download/lives.csv", "/sign-in/", "/a%0Ab", "/trials/%0A", "/nothing"])
def test_an_address_that_is_none_tells_strangers_nothing(house, path):
    client = house[2][None]
    assert client.get(path).status_code == 401
    assert client.get(path, headers={"Accept": "text/html"}).status_code == 302
    assert client.get(path, method="HEAD").status_code == 401


def test_a_reader_is_sent_to_sign_in_and_back(house):
    client = house[2][None]
    answer = client.get("/places?site=North", headers={"Accept": "text/html"})
    assert (answer.status_code, answer.location) == (
        302, "/sign-in?next=/places%3Fsite%3DNorth")
    shown = client.get(answer.location).get_data(as_text=True)
    assert 'value="/places?site=North"' in shown
    assert 'value="/"' in client.get("/sign-in?next=//evil.example").get_data(as_text=True)


def test_names_are_shown_as_text(house):
    shown = house[2]["keeper"].get("/accounts").get_data(as_text=True)
    assert "<b>K" not in shown
    assert "Käthe &lt;b&gt;K&lt;/b&gt;" in shown
    assert "signed in" in shown


def health_page(app, client):
    client.get("/")
    body = body_of(app.callback_map, "_pages_content.children", {
        "_pages_location.pathname": "/data-health", "_pages_location.search": ""})
    return client.post("/_dash-update-component", json=body, headers=HERE).get_data(as_text=True)


def test_data_health_tells_keepers_alone_what_was_done(house, tmp_path):
    _, app, clients = house
    shown = health_page(app, clients["keeper"])
    assert "What was done last" in shown
    assert "signed in" in shown
    for role in ("viewer", "recorder"):
        shown = health_page(app, clients[role])
        assert "are used; " in shown
        assert "What was done last" not in shown
    make_edition(tmp_path, "full")
    audit.note(tmp_path, "load", edition=7)
    alone = create_app(tmp_path)
    shown = health_page(alone, alone.server.test_client())
    assert "edition 7" in shown  # without accounts, for whoever uses this machine
    assert "/accounts" not in shown


def test_door_lists_only_addresses_that_are_there(house):
    rules = {rule.rule for rule in house[1].server.url_map.iter_rules()}
    assert set(door.NEEDS) | set(door.OPEN) <= rules


def test_what_is_new_and_takes_something_is_for_keepers(house):
    _, app, _ = house
    sent = {rule.rule for rule in app.server.url_map.iter_rules() if rule.methods & {"POST", "PUT"}}
    for path in sent - set(door.OPEN) - set(door.SENT_BY_VIEWERS) - set(door.NEEDS):
        assert path.startswith("/invitation/") or door.role_of_path(path, "POST") == "keeper", path
    assert door.role_of_path("/new", "POST") == door.role_of_path("/new", "DELETE") == "keeper"
    assert door.role_of_path("/new") == "viewer"


def test_every_answer_of_the_door_bears_the_headers(house):
    _, _, clients = house
    tried = {("GET", "/sign-in", None): 200, ("GET", "/", None): 401, ("GET", "/none", None): 401,
             ("GET", "/invitation/x", None): 410, ("POST", "/sign-in", None): 403,
             ("GET", "/accounts", "keeper"): 200, ("GET", "/accounts", "viewer"): 403,
             ("GET", "/none", "viewer"): 404}
    for (method, path, role), status in tried.items():
        answer = clients[role].open(path, method=method, headers=HERE)
        assert answer.status_code == status, path
        policy = dict(part.split(None, 1) for part in
                      answer.headers["Content-Security-Policy"].split("; "))
        assert "unsafe" not in policy["script-src"]
        assert policy["frame-ancestors"] == "'none'"
        assert policy["form-action"] == "'self'"
        assert answer.headers["X-Frame-Options"] == "DENY"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Referrer-Policy"] == "same-origin"
        assert answer.headers["Cache-Control"] == "no-store"
        if path in ("/sign-in", "/accounts", "/invitation/x"):
            shown = answer.get_data(as_text=True)
            assert re.findall(r"<script(?! src=\"/assets/)", shown) == []
            assert not re.search(r"\son\w+=", shown)


def test_a_viewer_who_attacks_changes_nothing(tmp_path):
    (tmp_path / "store").mkdir()
    make_edition(tmp_path / "store", "full")
    attack = AsViewer(tmp_path / "store", 5)
    attack.run(160)
    assert attack.findings == []
    assert attack.answered["values 2xx"] > 5
