"""Make, change and remove accounts; one-time links to come in by."""

from __future__ import annotations

import secrets
import sqlite3
from pathlib import Path

from etl import audit
from etl.account import book, limits
from etl.account.book import Account
from etl.account.passwords import check_password, kept
from etl.errors import InputError

LINK_HOURS = 72.0
"""A link that waits in a mailbox for longer is no longer good (our choice)."""
AHEAD_HOURS = 0.1
"""How far the clock may have been ahead when a link was made that is still good."""
LAST = ("accounts: this is the last keeper; somebody has to keep the accounts. Make another keeper "
        "first.")
NO_LINK = "accounts: this link was used or has expired. Ask a keeper for a new one."


def add(store: Path, name: str, role: str, password: str, by: str = audit.COMMAND_LINE) -> None:
    """Make an account; the first one makes the file.

    Raises
    ------
    InputError
        The name is taken or none, the role is none, or the password is not good enough.
    """
    name, role = book.tidy(name), book.check_role(role)
    check_password(password, name)
    if not book.exists(store) and role != "keeper":
        raise InputError("accounts: the first account must be a keeper (--role keeper).")
    password_hash = kept(password)
    book.make(store)
    with book.opened(store) as con:
        if _role_of(con, name) is not None:
            raise InputError(f"accounts: there is an account {name!r} already.")
        con.execute("delete from link where key = ?", [book.key_of(name)])
        _write(con, name, role, password_hash)
    audit.note(store, "account added", by, account=name, role=role)


def accounts(store: Path) -> list[tuple[Account, int]]:
    """Return all accounts by name, each with how many sessions it has open."""
    with book.reading(store) as con:
        rows = con.execute("""
            select name, role, (select count(*) from session where session.key = account.key)
            from account order by key""").fetchall()
    return [(Account(name, role), number) for name, role, number in rows]


def change_role(store: Path, name: str, role: str, by: str = audit.COMMAND_LINE) -> None:
    """Give an account another role; it holds from the next request on."""
    book.check_role(role)
    with book.opened(store) as con:
        _check_not_last(con, name, role)
        con.execute("update account set role = ? where key = ?", [role, book.key_of(name)])
    audit.note(store, "role changed", by, account=name, role=role)


def remove(store: Path, name: str, by: str = audit.COMMAND_LINE) -> None:
    """Remove an account with its sessions and links; what it entered stays."""
    with book.opened(store) as con:
        _check_not_last(con, name, "")
        con.execute("delete from account where key = ?", [book.key_of(name)])
        con.execute("delete from link where key = ?", [book.key_of(name)])
        limits.forget(con, book.key_of(name))
    audit.note(store, "account removed", by, account=name)


def invite(store: Path, name: str, role: str, by: str = audit.COMMAND_LINE) -> str:
    """Return the secret of a one-time link; for an account that is there it sets a new password.

    Notes
    -----
    An earlier link for the same name is void. The secret itself is kept nowhere.
    """
    name, role, token = book.tidy(name), book.check_role(role), secrets.token_urlsafe(32)
    with book.opened(store) as con:
        con.execute("delete from link where key = ? or expires_at < ?",
                    [book.key_of(name), book.now()])
        con.execute("insert into link values (?, ?, ?, ?, ?)",
                    [book.hashed(token), book.key_of(name), name,
                     _role_of(con, name) or role, book.now() + LINK_HOURS * 3600])
    audit.note(store, "invited", by, account=name, role=role)
    return token


def invited(store: Path, token: str) -> Account:
    """Return whom a link is for.

    Raises
    ------
    InputError
        It was used, has expired, or never was one.
    """
    with book.reading(store) as con:
        row = con.execute(
            "select name, role from link where hash = ? and expires_at between ? and ?",
            [book.hashed(token), *_good()]).fetchone()
    if row is None:
        raise InputError(NO_LINK)
    return Account(*row)


def accept(store: Path, token: str, password: str) -> Account:
    """Use a link once: make its account, or give it a new password and end its sessions.

    Raises
    ------
    InputError
        As in `invited`, or the password is not good enough; the link then stays good.
    """
    check_password(password, invited(store, token).name)
    password_hash = kept(password)
    with book.opened(store) as con:
        row = con.execute("delete from link where hash = ? and expires_at between ? and ? "
                          "returning name, role", [book.hashed(token), *_good()]).fetchone()
        if row is None:
            raise InputError(NO_LINK)
        account = Account(row[0], _role_of(con, row[0]) or row[1])
        con.execute("delete from session where key = ?", [book.key_of(account.name)])
        _write(con, account.name, account.role, password_hash)
        limits.forget(con, book.key_of(account.name))
    audit.note(store, "link used", account.name, role=account.role)
    return account


def unlock(store: Path, name: str, by: str = audit.COMMAND_LINE) -> int:
    """Let an account sign in again at once and return how many wrong attempts are forgotten."""
    with book.opened(store) as con:
        if _role_of(con, name) is None:
            raise InputError(_none(name))
        number = limits.forget(con, book.key_of(name))
    audit.note(store, "unlocked", by, account=name, wrong_attempts=number)
    return number


def _good() -> tuple[float, float]:
    """Return between which moments a link ends that is good now."""
    return book.now(), book.now() + (LINK_HOURS + AHEAD_HOURS) * 3600


def _none(name: str) -> str:
    return f"accounts: there is no account {name[:book.LONGEST_NAME]!r}."


def _write(con: sqlite3.Connection, name: str, role: str, password_hash: str) -> None:
    con.execute(
        """insert into account (key, name, role, password_hash, made_at) values (?, ?, ?, ?, ?)
        on conflict (key) do update set password_hash = excluded.password_hash""",
        [book.key_of(name), name, role, password_hash, book.now()])


def _role_of(con: sqlite3.Connection, name: str) -> str | None:
    row = con.execute("select role from account where key = ?", [book.key_of(name)]).fetchone()
    return None if row is None else str(row[0])


def _check_not_last(con: sqlite3.Connection, name: str, role: str) -> None:
    """Stop where there is no such account, or no keeper would be left."""
    before = _role_of(con, name)
    if before is None:
        raise InputError(_none(name))
    number = con.execute("select count(*) from account where role = 'keeper'").fetchone()[0]
    if before == "keeper" and role != "keeper" and number == 1:
        raise InputError(LAST)
