"""Sign in with a password, within limits that a restart does not lift; sessions on the server."""

from __future__ import annotations

import contextlib
import secrets
from pathlib import Path

from etl import audit
from etl.account import book, limits
from etl.account.book import Account
from etl.account.passwords import fits, is_outdated, kept
from etl.errors import InputError, StoreError

IDLE_S = 12 * 3600.0
"""A session that nobody used for a shift is over (our choice)."""
LONGEST_S = 7 * 86400.0
"""And any after a week; NIST SP 800-63B-4 allows 30 days at its lowest level (from memory)."""
AHEAD_S = 300.0
"""How far the clock may have been ahead when something was begun that still counts."""
SEEN_EVERY_S = 60.0
"""Its last use is noted this often, not at every request."""
WRONG = "Name or password are not right."
NO_NAME = "a name without account"
"""Noted in the place of a name that is none: a password typed into the wrong field is no name."""


class TooManyError(InputError):
    """Attempts come too often."""


def sign_in(store: Path, name: str, password: str, address: str,
            browser: str = "") -> tuple[Account, str]:
    """Return the account and the secret of a new session.

    Parameters
    ----------
    store : Path
    name, password : str
        As typed.
    address : str
        Where the attempt comes from.
    browser : str
        Mark of a browser from which this account has signed in before; empty for all others.

    Raises
    ------
    TooManyError
        There were too many; the password was not even looked at.
    InputError
        They do not fit; it does not tell which of the two.
    """
    key = book.key_of(name)[:book.LONGEST_NAME]
    with book.opened(store) as con:
        places = limits.places_of(con, key, address, browser)
        row = con.execute("select name, role, password_hash from account where key = ?",
                          [key]).fetchone()
        held_s = limits.held_s(con, places)
        is_news = bool(held_s) and limits.is_news(con, places)
        if not held_s:  # counted before the slow look, so that many at once count as well
            limits.count(con, places)
    who = row[0] if row else NO_NAME
    if held_s:
        if is_news:
            audit.note(store, "sign-in held back", who, address=address)
        raise TooManyError(limits.in_words(held_s))
    if not fits(password, row[2] if row else None):
        audit.note(store, "sign-in refused", who, address=address)
        raise InputError(WRONG)
    anew = kept(password) if is_outdated(row[2]) else row[2]
    with book.opened(store) as con:
        limits.forgive(con, places)
        if anew != row[2]:
            con.execute("update account set password_hash = ? where key = ? and password_hash = ?",
                        [anew, key, row[2]])
    return Account(row[0], row[1]), begin(store, row[0], address)


def begin(store: Path, name: str, address: str) -> str:
    """Return the secret of a new session of an account."""
    token = secrets.token_urlsafe(32)
    with book.opened(store) as con:
        con.execute("delete from session where begun_at < ? or seen_at < ? or begun_at > ?",
                    [book.now() - LONGEST_S, book.now() - IDLE_S, book.now() + AHEAD_S])
        con.execute("insert into session values (?, ?, ?, ?)",
                    [book.hashed(token), book.key_of(name), book.now(), book.now()])
    audit.note(store, "signed in", name, address=address)
    return token


def account_of(store: Path, token: str) -> Account | None:
    """Return whose session this is, with the role of this moment; None where it is over."""
    at, key = book.now(), book.hashed(token)
    with book.reading(store) as con:
        row = con.execute(
            """select name, role, seen_at from session join account using (key)
            where hash = ? and begun_at between ? and ? and seen_at between ? and ?""",
            [key, at - LONGEST_S, at + AHEAD_S, at - IDLE_S, at + AHEAD_S]).fetchone()
    if row is None:
        return None
    if at - row[2] > SEEN_EVERY_S:
        # A disk that takes nothing keeps nobody from reading; the session ends no later for it.
        with contextlib.suppress(StoreError), book.opened(store) as con:
            con.execute("update session set seen_at = ? where hash = ?", [at, key])
    return Account(row[0], row[1])


def account_named(store: Path, name: str) -> Account | None:
    """Return the account of a name that somebody else has vouched for."""
    with book.reading(store) as con:
        row = con.execute("select name, role from account where key = ?",
                          [book.key_of(name)]).fetchone()
    return Account(*row) if row else None


def end(store: Path, token: str, who: str) -> None:
    """End one session."""
    with book.opened(store) as con:
        con.execute("delete from session where hash = ?", [book.hashed(token)])
    audit.note(store, "signed out", who)


def end_all(store: Path, name: str, by: str = audit.COMMAND_LINE) -> int:
    """End all sessions of an account and return how many there were."""
    with book.opened(store) as con:
        number = con.execute("delete from session where key = ?", [book.key_of(name)]).rowcount
    audit.note(store, "sessions ended", by, account=name, number=number)
    return number
