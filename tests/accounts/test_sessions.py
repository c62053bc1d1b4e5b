"""Sessions, cookies, forms, links and roles: what an attacker tries."""

import re

import pytest

from dashboard.app import create_app
from dashboard.serve import listening
from etl.account import book, keep, sessions
from etl.errors import InputError
from tests.accounts.house import HERE, PASSWORD, enter, form_of, post


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


def test_cookies_are_bound_and_forged_ones_open_nothing(another):
    store, client = another
    other = create_app(store).server.test_client()
    (set_by,) = (made for made in enter(other, "ann").headers.getlist("Set-Cookie")
                 if made.startswith("braidlife-session="))
    assert "HttpOnly" in set_by
    assert "SameSite=Lax" in set_by
    assert "Secure" not in set_by
    over_tls = "https://localhost"
    answer = other.post(
        "/sign-in", data={"name": "Ann", "password": PASSWORD, **form_of(other, over_tls)},
        base_url=over_tls, headers={"Origin": over_tls})
    assert answer.status_code == 303
    for made in answer.headers.getlist("Set-Cookie"):
        assert {"Secure", "HttpOnly", "Path=/"} <= set(made.split("; ")), made
        assert made.startswith("__Host-")
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


def test_an_invitation_works_once_and_not_for_ever(another, monkeypatch):
    store, client = another
    shown = post(client, do="invite", name="Bo", role="recorder").get_data(as_text=True)
    (link,) = re.findall(r"http://localhost(/invitation/[^\"]+)", shown)
    assert link[12:].encode() not in (store / book.NAME).read_bytes()
    new = client.application.test_client()
    own = form_of(new)
    assert new.post(link, data={"password": PASSWORD}, headers=HERE).status_code == 403
    assert new.post(link, data={"password": "short", **own}, headers=HERE).status_code == 422
    assert new.post(link, data={"password": PASSWORD, **own}, headers=HERE).status_code == 303
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
    right, fresh = {"name": "Ann", "password": PASSWORD}, create_app(store).server.test_client()
    assert fresh.post("/sign-in", data=right, headers=HERE).status_code == 403
    theirs = form_of(create_app(store).server.test_client())  # fetched by somebody else's browser
    assert form_of(fresh) != theirs
    for token in (theirs, {"token": ""}, {"token": form_of(fresh)["token"][:-1] + "x"}):
        answer = fresh.post("/sign-in", data=right | token, headers=HERE)
        assert answer.status_code == 403
        assert "Try again" in answer.get_data(as_text=True)
    fresh.set_cookie("braidlife-form", "made-up")
    assert fresh.post("/sign-in", data=right | {"token": "made-up"}, headers=HERE
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


def test_an_account_made_by_hand_voids_the_link_that_was_out_for_its_name(another):
    """Else whoever holds a link for a viewer would set the password of a keeper."""
    store, _ = another
    token = keep.invite(store, "Bo", "viewer")
    keep.add(store, "BO", "keeper", PASSWORD)
    with pytest.raises(InputError, match="was used"):
        keep.accept(store, token, "another password of one's own")
    assert [account.role for account, _ in keep.accounts(store)] == ["keeper", "keeper"]


def test_nothing_begun_while_the_clock_was_ahead_outlasts_its_time(another, clock):
    store, _ = another
    clock(365 * 86400)
    client = create_app(store).server.test_client()
    enter(client, "Ann")
    link = keep.invite(store, "Bo", "viewer")
    clock(-200)  # the common correction of a clock signs nobody out
    assert client.get("/").status_code == 200
    keep.invited(store, link)
    clock(200 - 365 * 86400)
    assert client.get("/").status_code == 401
    with pytest.raises(InputError, match="expired"):
        keep.accept(store, link, PASSWORD)
    assert enter(client, "Ann").status_code == 303
    assert client.get("/").status_code == 200
