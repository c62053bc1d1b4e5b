"""Accounts: every address and callback for every role, and what an attacker tries."""

from __future__ import annotations

import json
import re
import sqlite3

import pytest

from dashboard import actions
from dashboard.accounts import door
from dashboard.app import create_app
from dashboard.serve import listening
from etl import audit
from etl.account import book, keep, passwords, sessions
from etl.errors import InputError, StoreError
from tests.dashboard.edition_maker import make_edition
from tests.dashboard.page_reader import _targets

PASSWORD = "copper kettle on the roof"
HERE = {"Origin": "http://localhost", "Host": "localhost"}
NAMES = {"viewer": "Vera", "recorder": "Rolf", "keeper": "Käthe <b>K</b>"}
ROLES = (None, *book.ROLES)


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    """A store with one account of each role, its app, and a signed-in client for each."""
    store = tmp_path_factory.mktemp("accounts")
    make_edition(store, "full")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(passwords, "HASHER", passwords.argon2.PasswordHasher(1, 8, 1))
        for role in reversed(book.ROLES):
            keep.add(store, NAMES[role], role, PASSWORD)
        app = create_app(store)
        clients = {None: app.server.test_client()}
        for role in book.ROLES:
            clients[role] = app.server.test_client()
            assert enter(clients[role], NAMES[role]).status_code == 303
        clients["viewer"].get("/")
        yield store, app, clients


@pytest.fixture
def another(house, tmp_path):
    """A small store of a test's own, with its keeper, and a client that has signed in."""
    keep.add(tmp_path, "Ann", "keeper", PASSWORD)
    client = create_app(tmp_path).server.test_client()
    assert enter(client, "Ann").status_code == 303
    return tmp_path, client


def enter(client, name, password=PASSWORD, **more):
    return client.post("/sign-in", data={"name": name, "password": password, **more}, headers=HERE)


def post(client, **form):
    shown = client.get("/accounts").get_data(as_text=True)
    token = re.findall(r'name="token" value="([^"]+)"', shown)
    return client.post("/accounts", data={"token": token[0] if token else "", **form},
                       headers=HERE)


# ---- every address and callback, for every role ------------------------------------------------


def addresses(app):
    """Every address that the server knows, with its methods; parts filled in."""
    known = {"table": "lives", "kind": "csv", "name": "x.png", "filename": "b_base.css",
             "path": "places", "token": "x", "package_name": "dash", "fingerprinted_path": "x.js"}
    for rule in app.server.url_map.iter_rules():
        path = re.sub(r"<(?:[^:<>]+:)?([^<>]+)>", lambda found: known[found[1]], rule.rule)
        for method in rule.methods - {"OPTIONS", "HEAD"}:
            yield method, path


NEEDED = {("POST", "/check-file"): "recorder", ("POST", "/incoming"): "keeper",
          ("GET", "/accounts"): "keeper", ("POST", "/accounts"): "keeper"}
FREE = {"/sign-in", "/invitation/x", "/assets/b_base.css", "/health", "/healthz", "/ready",
        "/readyz", "/_favicon.ico"}


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


# ---- without accounts --------------------------------------------------------------------------


def test_without_accounts_this_machine_alone_comes_in(tmp_path):
    client = create_app(tmp_path).server.test_client()
    assert client.get("/").status_code == 200
    assert client.get("/", environ_base={"REMOTE_ADDR": "192.0.2.7"}).status_code == 403
    reached = create_app(tmp_path, hosts=("0.0.0.0",)).server.test_client()
    assert reached.get("/").status_code == 403
    assert reached.get("/health").status_code == 200
    with pytest.raises(ValueError, match="no accounts"):
        listening(tmp_path, "0.0.0.0", 0)
    keep.add(tmp_path, "Ann", "keeper", PASSWORD)
    assert client.get("/").status_code == 401  # from the next request on, without a restart
    listening(tmp_path, "0.0.0.0", 0).close()


def test_the_file_is_readable_by_its_owner_alone_and_fails_shut(another):
    store, client = another
    assert (store / book.NAME).stat().st_mode & 0o777 == 0o600
    assert PASSWORD.encode() not in (store / book.NAME).read_bytes()
    (store / book.NAME).write_bytes(b"rubbish" * 1000)
    answer = client.get("/")
    assert answer.status_code == 503
    assert str(store) not in answer.get_data(as_text=True)


# ---- attacks -----------------------------------------------------------------------------------


def test_cookies_are_bound_and_forged_ones_open_nothing(another):
    store, client = another
    other = create_app(store).server.test_client()
    set_by = enter(other, "ann").headers["Set-Cookie"]
    assert "HttpOnly" in set_by
    assert "SameSite=Lax" in set_by
    assert "Secure" not in set_by
    assert "Secure" in other.post(
        "/sign-in", data={"name": "Ann", "password": PASSWORD}, base_url="https://localhost",
        headers={"Origin": "https://localhost"}).headers["Set-Cookie"]
    value = client.get_cookie("braidlife-session").value
    head, _, sign = value.partition(".")
    for forged in (value[:-2] + "xx", f"{head}x.{sign}", "", "x", f"eyJfdXNlcl9pZCI6IjEifQ.{sign}"):
        answer = create_app(store).server.test_client().get(
            "/", headers={"Cookie": f"braidlife-session={forged}"})
        assert answer.status_code == 401, forged


def test_a_session_ends_on_the_server(another, monkeypatch):
    store, client = another
    kept = client.get_cookie("braidlife-session").value
    assert client.get("/").status_code == 200
    assert client.post("/sign-out", headers=HERE).status_code == 303
    client.set_cookie("braidlife-session", kept)
    assert client.get("/").status_code == 401
    enter(client, "Ann")
    assert sessions.end_all(store, "ann") == 1
    assert client.get("/").status_code == 401
    enter(client, "Ann")
    clock = book.now()
    monkeypatch.setattr(book, "now", lambda: clock + sessions.IDLE_S + 2)
    assert client.get("/").status_code == 401
    monkeypatch.setattr(book, "now", lambda: clock)
    for hours in range(0, int(sessions.LONGEST_S / 3600), 10):  # in use all the time
        monkeypatch.setattr(book, "now", lambda hours=hours: clock + hours * 3600)
        assert client.get("/_reload-hash").status_code != 401
    monkeypatch.setattr(book, "now", lambda: clock + sessions.LONGEST_S + 60)
    assert client.get("/").status_code == 401


def test_guessing_is_held_back_across_a_restart(another, monkeypatch):
    store, _ = another
    for number in range(sessions.MOST_HERE + 1):
        if number in (0, 5):
            client = create_app(store).server.test_client()
        answer = enter(client, "Ann", f"wrong {number}")
    assert answer.status_code == 429
    assert enter(client, "ANN").status_code == 429  # the right one is not even looked at
    assert client.post("/sign-in", data={"name": "Ann", "password": PASSWORD}, headers=HERE,
                       environ_base={"REMOTE_ADDR": "127.0.0.9"}).status_code == 303
    later = book.now() + sessions.WITHIN_S + 1
    monkeypatch.setattr(book, "now", lambda: later)
    assert enter(client, "Ann").status_code == 303
    with sqlite3.connect(store / book.NAME) as con:
        con.execute("update account set n_wrong = ?", [sessions.MOST_IN_A_ROW])
    con.close()
    assert enter(client, "Ann").status_code == 429
    whats = [line["what"] for line in audit.latest(store, 50)]
    assert {"sign-in refused", "sign-in held back", "signed in"} <= set(whats)
    assert PASSWORD not in (store / audit.NAME).read_text()


def test_an_invitation_works_once_and_not_for_ever(another, monkeypatch):
    store, client = another
    shown = post(client, do="invite", name="Bo", role="recorder").get_data(as_text=True)
    (link,) = re.findall(r"http://localhost(/invitation/[^\"]+)", shown)
    assert link[12:].encode() not in (store / book.NAME).read_bytes()
    new = client.application.test_client()
    assert new.post(link, data={"password": "short"}, headers=HERE).status_code == 422
    assert new.post(link, data={"password": PASSWORD}, headers=HERE).status_code == 303
    assert new.get("/").status_code == 200
    assert new.get("/accounts").status_code == 403
    for replay in (new.get(link), new.post(link, data={"password": PASSWORD}, headers=HERE)):
        assert replay.status_code == 410
    token = keep.invite(store, "Bo", "keeper")  # a link for a new password lifts no role
    assert keep.accept(store, token, PASSWORD).role == "recorder"
    assert new.get("/").status_code == 401  # and ends the sessions of the old one
    late, after = keep.invite(store, "Cy", "viewer"), book.now() + keep.LINK_HOURS * 3600 + 1
    monkeypatch.setattr(book, "now", lambda: after)
    with pytest.raises(InputError, match="expired"):
        keep.accept(store, late, PASSWORD)


def test_forms_of_other_sites_and_stale_ones_change_nothing(another):
    store, client = another
    keep.add(store, "Bo", "viewer", PASSWORD)
    form = {"do": "role", "name": "Bo", "role": "keeper"}
    for headers in ({}, {"Origin": "http://evil.example"}, {"Origin": "null"},
                    HERE | {"Sec-Fetch-Site": "cross-site"}, HERE):
        assert client.post("/accounts", data=form, headers=headers).status_code == 403
    assert enter(client, "Ann").status_code == 303
    assert client.post("/sign-in", data={}, headers={"Origin": "http://evil.example"}
                       ).status_code == 403
    assert [account.role for account, _ in keep.accounts(store)] == ["keeper", "viewer"]
    assert post(client, **form).status_code == 303
    assert [account.role for account, _ in keep.accounts(store)] == ["keeper", "keeper"]
    assert post(client, do="role", name="Bo", role="emperor").status_code == 422


def test_a_role_taken_away_is_gone_at_the_next_request_and_one_keeper_stays(another):
    store, client = another
    assert post(client, do="remove", name="Ann").status_code == 422
    keep.add(store, "Bo", "keeper", PASSWORD)
    keep.change_role(store, "Ann", "viewer")
    assert client.get("/accounts").status_code == 403
    keep.remove(store, "ann")
    assert client.get("/").status_code == 401
    with pytest.raises(InputError, match="last keeper"):
        keep.remove(store, "Bo")


def test_a_header_is_believed_of_the_named_server_only(another):
    store, _ = another
    with_header = {"X-Forwarded-User": "Ann"}
    client = create_app(store).server.test_client()

    def status(address, headers):
        return client.get("/accounts", headers=headers,
                          environ_base={"REMOTE_ADDR": address}).status_code

    assert status("192.0.2.1", with_header) == 401  # off by default
    (store / "settings.toml").write_text('proxy_user_header = "X-Forwarded-User"\n')
    assert status("192.0.2.1", with_header) == 401  # no server named
    (store / "settings.toml").write_text(
        'proxy_address = "192.0.2.1"\nproxy_user_header = "X-Forwarded-User"\n')
    assert status("192.0.2.1", with_header) == 200
    assert status("192.0.2.1", {"X-Forwarded-User": "Nobody"}) == 401
    assert status("192.0.2.1", {"X-Forwarded-User": "Ann,Ann"}) == 401
    for address in ("192.0.2.2", "127.0.0.1"):
        assert status(address, with_header) == 403
        assert status(address, {}) == 401


# ---- passwords ---------------------------------------------------------------------------------


@pytest.mark.parametrize("password", [
    "copper kettle 7", "ключ от старого сарая", "軟管軟管壓力測試很久以前的故事",
    "quite a long way round the harbour and back again before the rain came down",
    "🐙🦑 eight arms and ten"])
def test_any_long_password_of_ones_own_will_do(password):
    passwords.check_password(password, "Ann")


@pytest.mark.parametrize("password", [
    "", "short", "fourteen signs", "password1234567", "PasswordPassword", "qwertyuiop12345",
    "aaaaaaaaaaaaaaaa", "abababababababab", "123456789012345", "Ann Baker Ann Baker",
    "correcthorsebatterystaple", "braidlife2026!!!", "x" * 1001])
def test_short_and_common_passwords_are_refused(password):
    with pytest.raises(InputError, match="password: "):
        passwords.check_password(password, "Ann Baker")


def test_one_password_typed_on_two_keyboards_is_one():
    assert passwords.fits("cafe\u0301 am alten Hafen", passwords.HASHER.hash("café am alten Hafen"))


def test_the_first_account_is_a_keeper(tmp_path):
    with pytest.raises(InputError, match="must be a keeper"):
        keep.add(tmp_path, "Ann", "viewer", PASSWORD)
    assert not book.exists(tmp_path)
    with pytest.raises(StoreError, match="there are none"):
        keep.remove(tmp_path, "Ann")


def test_the_audit_log_survives_a_torn_line(tmp_path):
    audit.note(tmp_path, "load", edition=1)
    with (tmp_path / audit.NAME).open("ab") as file:
        file.write(b'{"what": "lo')
    audit.note(tmp_path, "load", "x" * 999, edition=2)
    assert [line["edition"] for line in audit.latest(tmp_path, 9)] == [2, 1]
    assert all(len(json.dumps(line)) < 400 for line in audit.latest(tmp_path, 9))


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
