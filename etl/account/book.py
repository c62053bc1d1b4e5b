"""The file that keeps the accounts of a store: one small database, readable by its owner alone.

It is no part of an edition. As long as it is not there, the pages are served on this machine only
and whoever uses the machine may do everything; once it is there, nobody comes in without account.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import sqlite3
import time
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from etl.errors import InputError, StoreError

NAME = "accounts.sqlite3"
ROLES = ("viewer", "recorder", "keeper")
"""Each may do all that the ones before it may: read; enter; load files and keep the accounts."""
LONGEST_NAME = 80
WAIT_S = 10.0
"""For another process that writes at the same moment."""
NO_WAY = ("accounts: the file of the accounts is damaged or cannot be used. Restore it from a "
          "backup, or remove it and add the accounts anew.")
NOT_KEPT = {
    "SQLITE_FULL": "the disk is full. Free some space and try again.",
    "SQLITE_IOERR": "the disk takes nothing or is broken. Free some space and try again.",
    "SQLITE_READONLY": "the store may not be written. Give this user the right to write to it.",
    "SQLITE_CANTOPEN": "the store may not be written. Give this user the right to write to it.",
    "SQLITE_BUSY": "others are changing the accounts. Try again in a moment.",
}
"""What hinders a change without harm to what is there, by the beginning of the database's name."""
SCHEMA = """
create table if not exists account (
    key text primary key, name text not null, role text not null, password_hash text not null,
    made_at real not null);
create table if not exists link (
    hash text primary key, key text not null, name text not null, role text not null,
    expires_at real not null);
create table if not exists session (
    hash text primary key, key text not null references account (key) on delete cascade,
    begun_at real not null, seen_at real not null);
create table if not exists secret (value text not null);
"""


@dataclass(frozen=True)
class Account:
    """Somebody who may come in: name as shown, and role."""

    name: str
    role: str

    def may(self, role: str) -> bool:
        """Tell whether this account's role includes another."""
        return ROLES.index(self.role) >= ROLES.index(role)


def exists(store: Path) -> bool:
    """Tell whether a store has accounts, even if none is left in the file."""
    return (store / NAME).exists()


def make(store: Path) -> None:
    """Make the file where it is not there yet."""
    try:
        store.mkdir(parents=True, exist_ok=True)
        os.close(os.open(store / NAME, os.O_RDWR | os.O_CREAT, 0o600))
        con = sqlite3.connect(store / NAME, timeout=WAIT_S)
        try:
            con.executescript(SCHEMA)
            with con:
                con.execute("insert into secret select ? where not exists (select * from secret)",
                            [secrets.token_urlsafe(48)])
        finally:
            con.close()
    except (OSError, sqlite3.Error) as exc:
        raise StoreError("accounts: their file could not be made in the store. Check its rights "
                         "and free room.") from exc


@contextmanager
def opened(store: Path) -> Iterator[sqlite3.Connection]:
    """Open the file for one change: all of it is kept, or nothing.

    Raises
    ------
    StoreError
        There is no such file, it is damaged, or it takes no change.
    """
    if not exists(store):
        raise StoreError("accounts: there are none. Make the first with `braidlife account add "
                         "NAME --role keeper`.")
    try:
        con = sqlite3.connect(store / NAME, timeout=WAIT_S, isolation_level=None)
        try:
            con.execute("pragma foreign_keys = on")
            con.execute("pragma secure_delete = on")
            con.execute("begin immediate")
            yield con
            con.execute("commit")
        finally:
            con.close()  # whatever was begun and not kept is taken back
    except sqlite3.Error as exc:
        raise _fault(exc) from exc


@contextmanager
def reading(store: Path) -> Iterator[sqlite3.Connection]:
    """Open the file to read; errors as in `opened`.

    Not in the mode that only reads: whoever opens it first after a kill takes the unfinished
    change back, which that mode refuses.
    """
    try:
        con = sqlite3.connect(f"{(store / NAME).absolute().as_uri()}?mode=rw", uri=True,
                              timeout=WAIT_S)
        try:
            con.execute("pragma query_only = on")
            yield con
        finally:
            con.close()
    except sqlite3.Error as exc:
        raise _fault(exc) from exc


def _fault(exc: sqlite3.Error) -> StoreError:
    """Return the error of a file that does not answer: what hinders it, or that it is damaged."""
    name = getattr(exc, "sqlite_errorname", "")
    for begins, words in NOT_KEPT.items():
        if name.startswith(begins):
            return StoreError(f"accounts: nothing was changed, {words}")
    return StoreError(NO_WAY)


def without_passing(con: sqlite3.Connection) -> None:
    """Take out of a copy what must not come back with it: open sessions and links."""
    con.executescript(SCHEMA + "pragma secure_delete = on; delete from session; delete from link;")


def secret(store: Path) -> str:
    """Return what cookies of this store are signed with."""
    with reading(store) as con:
        return str(con.execute("select value from secret").fetchone()[0])


def now() -> float:
    """Return seconds since 1970; tests put another clock in its place."""
    return time.time()


def tidy(name: str) -> str:
    """Return a name as it is kept and shown.

    Raises
    ------
    InputError
        It is empty, too long, or holds signs that are no text.
    """
    name = unicodedata.normalize("NFC", " ".join(name.split()))
    if not 0 < len(name) <= LONGEST_NAME or not name.isprintable():
        raise InputError(f"accounts: a name has 1 to {LONGEST_NAME} signs, and no control signs.")
    return name


def key_of(name: str) -> str:
    """Return the form of a name in which large and small letters and widths are the same.

    Examples
    --------
    >>> key_of("  Ann  Åker ") == key_of("ann a\u030aker")
    True
    """
    return unicodedata.normalize("NFKC", " ".join(name.split())).casefold()


def check_role(role: str) -> str:
    """Return a role, or refuse a word that is none."""
    if role not in ROLES:
        raise InputError(f"accounts: a role is one of {', '.join(ROLES)}; got {role[:40]!r}.")
    return role


def hashed(token: str) -> str:
    """Return the form in which links and sessions are kept: who reads the file can use none."""
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
