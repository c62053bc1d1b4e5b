"""Wrong passwords: how long they hold whom back, and that they keep nobody out for good."""

import sqlite3

import pytest

from dashboard.app import create_app
from etl import audit
from etl.account import book, keep, limits, sessions
from etl.errors import InputError
from tests.accounts.house import PASSWORD, enter


def test_guessing_is_held_back_across_a_restart(another, clock):
    store, _ = another
    for number in range(limits.ACCOUNT.free + 1):
        if number in (0, 5):
            client = create_app(store).server.test_client()
        answer = enter(client, "Ann", f"wrong {number}", f"192.0.2.{number}")
    assert answer.status_code == 429
    assert "in 30 seconds" in answer.get_data(as_text=True)
    assert enter(client, "ANN", address="198.51.100.1").status_code == 429  # not even looked at
    clock(29)
    assert enter(client, "Ann").status_code == 429
    clock(2)
    assert enter(client, "Ann", "wrong").status_code == 401
    clock(31)
    assert enter(client, "Ann").status_code == 429  # the wait has doubled
    clock(30)
    assert enter(client, "Ann").status_code == 303
    assert enter(create_app(store).server.test_client(), "Ann", "wrong").status_code == 401
    whats = [line["what"] for line in audit.latest(store, 50)]
    assert {"sign-in refused", "sign-in held back", "signed in"} <= set(whats)


def test_no_name_is_noted_that_is_none(another):
    """A password typed into the field of the name is neither noted nor kept."""
    store, client = another
    assert enter(client, "my own secret passphrase", "x").status_code == 401
    assert audit.latest(store, 1)[0]["who"] == sessions.NO_NAME
    for path in store.rglob("*"):
        assert not path.is_file() or b"passphrase" not in path.read_bytes(), path.name


def guess(store, name, address):
    """Try a wrong password and tell whether it was looked at."""
    with pytest.raises(InputError) as caught:
        sessions.sign_in(store, name, "wrong", address)
    return str(caught.value) == sessions.WRONG


@pytest.mark.parametrize("name", ["Ann", "Nobody"])
def test_a_hundred_wrong_in_a_row_are_the_most(another, clock, name):
    """NIST SP 800-63B-4 section 3.2.2 (from memory): at most 100, whoever asks from wherever."""
    store, _ = another
    n_looked_at = 0
    for number in range(130):
        clock(3601)
        n_looked_at += guess(store, name, f"198.51.{number}.7")
    assert n_looked_at == 100
    assert "unlock" in enter(create_app(store).server.test_client(), name).get_data(as_text=True)


def test_a_stranger_keeps_nobody_out_for_good(another, clock):
    store, known = another
    for _ in range(101):
        clock(3601)
        guess(store, "Ann", "198.51.100.1")
    new = create_app(store).server.test_client()
    assert enter(new, "Ann").status_code == 429
    assert enter(known, "Ann", address="198.51.100.1").status_code == 303  # its browser is known
    assert keep.unlock(store, "ann") == 100
    assert enter(new, "Ann").status_code == 303
    with pytest.raises(InputError, match="no account"):
        keep.unlock(store, "Bo")


def test_a_known_browser_may_try_less_than_all_others_and_is_known_for_its_own_account(
        another, clock):
    store, known = another
    keep.add(store, "Bo", "viewer", PASSWORD)
    statuses = []
    for _ in range(limits.BROWSER.most + 2):
        clock(3601)
        statuses.append(enter(known, "Ann", "wrong").status_code)
    assert set(statuses) == {401}
    with sqlite3.connect(store / book.NAME) as con:
        counts = [row[0] for row in con.execute("select number from wrong order by number")]
    con.close()
    assert counts == [1, 2, limits.BROWSER.most]  # the last two as one of all others
    for _ in range(limits.ACCOUNT.free):
        assert enter(known, "Bo", "wrong").status_code == 401
    assert enter(known, "Bo").status_code == 429
    forged = create_app(store).server.test_client()
    forged.set_cookie("braidlife-browser", "eyJtYXJrIjoieCIsIm5hbWVzIjpbXX0.x.y")
    assert enter(forged, "Bo").status_code == 429


def test_one_password_on_many_names_is_held_back_by_address(another, clock):
    store, _ = another
    client = create_app(store).server.test_client()
    statuses = [enter(client, f"name {number}", PASSWORD, f"2001:db8::{number:x}").status_code
                for number in range(1, limits.ADDRESS.free + 2)]
    assert statuses == [401] * limits.ADDRESS.free + [429]
    assert enter(client, "Ann", address="192.0.2.9").status_code == 303
    clock(limits.ADDRESS.forgets_one_s * 2)
    assert enter(client, "name", PASSWORD, "2001:db8::1").status_code == 401


def test_a_clock_that_was_ahead_keeps_nobody_out(another, clock):
    client = create_app(another[0]).server.test_client()
    clock(40 * 365 * 86400)
    for _ in range(limits.ACCOUNT.free + 2):
        enter(client, "Ann", "wrong")
    clock(-40 * 365 * 86400)
    assert enter(client, "Ann").status_code == 429
    clock(61)
    assert enter(client, "Ann").status_code == 303


def test_an_attempt_that_is_held_back_is_noted_once_a_wait(another, clock):
    """Else strangers could fill the disk, and push out of sight what was done last."""
    store, _ = another
    client = create_app(store).server.test_client()

    def noted():
        return [line["what"] for line in audit.latest(store, 500)].count("sign-in held back")

    for _ in range(limits.ACCOUNT.free + 12):
        enter(client, "Ann", "wrong", "192.0.2.1")
    assert noted() == 1
    for number in range(20):  # from wherever
        assert enter(client, "Ann", "wrong", f"198.51.100.{number}").status_code == 429
    assert noted() == 1
    for number in range(limits.ADDRESS.free + 10):  # and under whatever name
        enter(client, f"name {number}", "wrong", "192.0.2.1")
    assert noted() == 2
    clock(31)
    for _ in range(5):
        enter(client, "Ann", "wrong", "192.0.2.77")
    assert noted() == 3
    size = (store / book.NAME).stat().st_size
    for number in range(40):
        enter(client, f"another {number}", "wrong", "192.0.2.1")
    assert (store / book.NAME).stat().st_size == size


def test_a_locked_account_is_noted_once_an_hour(another, clock):
    store, _ = another
    for _ in range(limits.ACCOUNT.most):
        clock(3601)
        guess(store, "Ann", "198.51.100.1")
    before = len(audit.latest(store, 999))
    for _ in range(9):
        clock(600)
        assert not guess(store, "Ann", "198.51.100.2")
    assert len(audit.latest(store, 999)) - before == 2
