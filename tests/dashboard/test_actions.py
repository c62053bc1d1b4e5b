"""The write path: who may, from where, how much, and what is refused."""

from urllib.parse import quote

import pytest

from dashboard import actions
from dashboard.app import create_app
from etl.load.entered import read_journal
from tests.dashboard.edition_maker import HOSTILE
from tests.dashboard.pictures import picture, sent

ORIGIN = {"Origin": "http://localhost"}
HERE = {"REMOTE_ADDR": "127.0.0.1"}
ROW = {"inspected_on": "2026-10-01", "condition": "good"}
ENTRY_ID = "0123456789abcdef"


def place_of(reader):
    with reader.app.server.test_request_context("/"):
        return actions.asked.all_places()[0]


def saved(reader, headers=ORIGIN, token=None, environ=None, **more):
    """Save one row in a request of its own, as a page would."""
    app = reader.app.server
    row = ROW | {"service_point": place_of(reader)}
    given = {"log": "inspections", "who": "Ann", "rows": [row]} | more
    with app.test_request_context("/", headers=headers, environ_overrides=HERE | (environ or {})):
        right = app.config[actions.KEY].token
        return actions.save(right if token is None else token, ENTRY_ID, **given)


def kept(store):
    return len(read_journal(store, "inspections").entries)


def test_a_page_of_ours_can_save(reader, store):
    assert saved(reader).is_kept
    assert kept(store) == 1
    assert not saved(reader).is_new
    assert kept(store) == 1


@pytest.mark.parametrize("headers", [
    {}, {"Origin": "http://evil.example"}, {"Origin": "null"}, {"Origin": "http://localhost:81"},
    {"Origin": "http://localhost.evil.example"}, {"Origin": "http://localhost@evil.example"},
    ORIGIN | {"Sec-Fetch-Site": "cross-site"}, ORIGIN | {"Sec-Fetch-Site": "same-site"},
    ORIGIN | {"Sec-Fetch-Site": "none"},
])
def test_a_write_that_another_site_started_is_refused(reader, store, headers):
    with pytest.raises(actions.RefusedError, match="another site"):
        saved(reader, headers)
    assert kept(store) == 0


@pytest.mark.parametrize("token", ["", "x", None, 7, ["t"], {"t": 1}, "ü" * 43, "\ud800"])
def test_a_write_without_the_token_of_this_process_is_refused(reader, store, token):
    with pytest.raises(actions.RefusedError, match="before the server was started anew"):
        saved(reader, token=token if token is not None else False)
    assert kept(store) == 0


def test_the_token_of_another_process_is_another(reader, store):
    other = actions.Actions(store, True).token
    assert len(other) > 40
    with pytest.raises(actions.RefusedError):
        saved(reader, token=other)


@pytest.mark.parametrize(("headers", "environ"), [
    (ORIGIN, {"REMOTE_ADDR": "192.0.2.7"}), (ORIGIN, {"REMOTE_ADDR": ""}),
    ({"Origin": "http://hoses.example", "Host": "hoses.example"}, {}),
])
def test_a_request_from_beyond_this_machine_is_refused(reader, store, headers, environ):
    with pytest.raises(actions.RefusedError, match="other machines"):
        saved(reader, headers, environ=environ)
    assert kept(store) == 0


def test_a_server_that_other_machines_reach_takes_no_entries_and_says_so(stores):
    app = create_app(stores["full"], hosts=("0.0.0.0",)).server
    with app.test_request_context("/", headers=ORIGIN, environ_overrides=HERE):
        assert "other machines" in actions.why_not()
        assert actions.token() == ""
        with pytest.raises(actions.RefusedError, match="other machines"):
            actions.guard(app.config[actions.KEY].token)


def test_the_setting_turns_entries_off_on_every_page(reader, store):
    (store / "settings.toml").write_text("entries_from_pages = false\n")
    with pytest.raises(actions.RefusedError, match="turned off"):
        saved(reader)
    address = "/places/" + quote(place_of(reader), safe="")
    for path in (address, "/data-health/check-file"):
        assert "turned off" in reader.text(path)
    assert "Not taken apart yet" not in reader.text("/teardown")
    answer = reader.client.post("/check-file?name=usage.csv", data=b"x", headers=ORIGIN)
    assert answer.status_code == 403


@pytest.mark.parametrize("log", ["service_points", "stock", "../x", "", "loads"])
def test_only_some_logs_take_entries(reader, log):
    with pytest.raises(actions.RefusedError, match="in this log"):
        saved(reader, log=log)


def test_a_place_that_the_register_lacks_is_refused_in_words(reader, store):
    taken = saved(reader, rows=[ROW | {"service_point": "Nowhere"}])
    assert "service point “Nowhere” is no known service point" in taken.words
    assert kept(store) == 0


# ---- photographs -------------------------------------------------------------------------------


def kept_photograph(reader, given, headers=ORIGIN):
    app = reader.app.server
    with app.test_request_context("/", headers=headers, environ_overrides=HERE):
        return actions.save_photograph(app.config[actions.KEY].token, given)


def test_a_photograph_comes_back_as_a_picture_and_nothing_else(reader):
    content = picture()
    name = kept_photograph(reader, sent(content))
    answer = reader.client.get(f"/photographs/{name}")
    assert (answer.status_code, answer.data, answer.mimetype) == (200, content, "image/png")
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Content-Disposition"] == f"inline; filename={name}"
    assert "script-src 'self'" in answer.headers["Content-Security-Policy"]
    assert answer.headers["Cross-Origin-Resource-Policy"] == "same-origin"


@pytest.mark.parametrize("given", [
    "", "data:image/png;base64,", "data:image/png;base64,%%%", sent(b"<svg onload=alert(1)>"),
    sent(b"<script>", "image/jpeg"), sent(b"GIF89a" + b"\0" * 99), None, 7, {"a": 1}])
def test_what_is_no_picture_is_refused(reader, given):
    with pytest.raises(actions.NOT_KEPT, match="no JPEG, PNG or WebP"):
        kept_photograph(reader, given)


def test_a_photograph_from_another_site_is_refused(reader, store):
    with pytest.raises(actions.RefusedError):
        kept_photograph(reader, sent(picture()), {"Origin": "http://evil.example"})
    assert not (store / "entries").exists()


@pytest.mark.parametrize("name", [
    "..%2f..%2flock", "%2e%2e%2f%2e%2e%2fcurrent", "../current", "a" * 64 + ".png",
    "A" * 64 + ".jpg", "a" * 64 + ".svg", "%00", "teardowns.jsonl", "..%5c..%5clock"])
def test_the_address_of_a_photograph_leads_nowhere_else(reader, store, name):
    (store / "lock").write_text("secret")
    answer = reader.client.get(f"/photographs/{name}")
    assert answer.status_code == 404
    assert b"secret" not in answer.data
    assert b"edition-" not in answer.data


# ---- files to check ----------------------------------------------------------------------------


def checked(reader, name, content, headers=None):
    token = reader.app.server.config[actions.KEY].token
    return reader.client.post(
        "/check-file?name=" + quote(name), data=content,
        headers=ORIGIN | {"X-Braidlife-Token": token} | (headers or {}))


def test_a_file_is_checked_and_not_kept(reader, store):
    before = sorted(path.as_posix() for path in store.rglob("*"))
    content = b"inspected_on,service_point,condition\n2026-10-01,Nowhere,good\n"
    answer = checked(reader, "../../inspections.csv", content)
    assert answer.status_code == 200
    assert answer.json["files"][0]["file"] == "inspections.csv"
    assert answer.json["refused"][0]["reason"] == "is no known service point"
    assert sorted(path.as_posix() for path in store.rglob("*")) == before


@pytest.mark.parametrize("headers", [
    {"Origin": "http://evil.example"}, {"Origin": ""}, {"X-Braidlife-Token": "wrong"},
    {"X-Braidlife-Token": ""}])
def test_a_file_from_elsewhere_is_not_looked_at(reader, headers, monkeypatch):
    monkeypatch.setattr(actions, "look", lambda *_: pytest.fail("it was looked at"))
    assert checked(reader, "inspections.csv", b"x", headers).status_code == 403


def test_a_file_that_is_too_large_is_not_read(reader, monkeypatch):
    monkeypatch.setattr(actions, "LARGEST", 1000)
    monkeypatch.setattr(actions, "look", lambda *_: pytest.fail("it was looked at"))
    assert checked(reader, "inspections.csv", b"x" * 5000).status_code == 413


def test_one_file_at_a_time(reader):
    assert reader.app.server.config[actions.KEY].looking.acquire()
    assert checked(reader, "inspections.csv", b"x").status_code == 503


def test_a_wrong_name_is_told_in_words(reader):
    answer = checked(reader, "photo.exe", b"MZ")
    assert (answer.status_code, "must end in" in answer.json["problem"]) == (422, True)


def test_places_with_hostile_names_take_entries_too(hostile, store, monkeypatch):
    monkeypatch.setitem(hostile.app.server.config, actions.KEY, actions.Actions(store, True))
    for number, name in enumerate(HOSTILE):
        assert "Enter something about this place" in hostile.text("/places/" + quote(name, safe=""))
        app = hostile.app.server
        with app.test_request_context("/", headers=ORIGIN, environ_overrides=HERE):
            taken = actions.save(app.config[actions.KEY].token, f"{number:016d}", "inspections",
                                 "Ann", [ROW | {"service_point": name, "note": name}])
        assert taken.is_kept, taken.words
    kept_names = [entry.rows[0]["note"] for entry in read_journal(store, "inspections").entries]
    assert kept_names == HOSTILE
