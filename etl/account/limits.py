"""How long somebody waits after wrong passwords: by account, by known browser, by address.

NIST SP 800-63B-4 section 3.2.2, read in its second public draft (August 2024): at most 100 wrong
attempts in a row for an account, a wait that grows with them (30 seconds up to an hour, say), and
earlier successes as a reason to let somebody try. The numbers of free attempts are our choice.
Nothing here tells whether there is an account of a name.
"""

from __future__ import annotations

import ipaddress
import json
import math
import sqlite3
from dataclasses import dataclass

from etl.account import book
from etl.counted import counted

FIRST_WAIT_S = 30.0
FORGOTTEN_S = 30 * 86400.0
"""Counts of names without an account, and of addresses and browsers, that nobody added to."""
TABLE = """create table if not exists wrong (
    place text primary key, of_account text not null, number real not null, at real not null)"""
TOLD = "create table if not exists told (place text primary key, until_at real not null)"
TOLD_S = 3600.0
"""The audit log tells once in a wait that somebody is held back, and once an hour in a longer one:
strangers can neither fill the disk nor push out of sight what was done before."""


@dataclass(frozen=True)
class Rule:
    """Wrong attempts in a row without a wait, the longest wait after one, and the most of all.

    One is forgotten every so many seconds; none where that is infinite.
    """

    free: int
    longest_s: float
    most: float = math.inf
    forgets_one_s: float = math.inf

    def wait_s(self, number: float) -> float:
        """Return the wait after so many wrong attempts in a row, s; infinite where it is over.

        Examples
        --------
        >>> ACCOUNT.wait_s(4), ACCOUNT.wait_s(5), ACCOUNT.wait_s(7), ACCOUNT.wait_s(99)
        (0.0, 30.0, 120.0, 3600.0)
        >>> ACCOUNT.wait_s(100)
        inf
        """
        if number >= self.most:
            return math.inf
        if number < self.free:
            return 0.0
        return min(FIRST_WAIT_S * math.exp2(min(number - self.free, 30)), self.longest_s)


ACCOUNT = Rule(free=5, longest_s=3600.0, most=100)
"""Of all who never signed in from their browser: together they slow one another down."""
BROWSER = Rule(free=5, longest_s=3600.0, most=20)
"""Of one browser from which the account signed in before; after that it is one of all others."""
ADDRESS = Rule(free=30, longest_s=900.0, forgets_one_s=60.0)
"""Of one address, whatever the names: one who tries one password on all of them."""


@dataclass(frozen=True)
class Place:
    """What wrong attempts are counted for."""

    name: str
    rule: Rule
    account: str = ""
    """Hash of the account's key, where they are of one."""


def places_of(con: sqlite3.Connection, key: str, address: str, browser: str) -> list[Place]:
    """Return what an attempt counts for.

    Parameters
    ----------
    con : sqlite3 connection
    key : str
        Of the account, whether or not there is one.
    address : str
        Where the attempt comes from.
    browser : str
        Mark of a browser from which this account has signed in before; empty for all others.
    """
    con.execute(TABLE)
    # A clock that was ahead for a while keeps nobody out until it would have been right.
    con.execute("update wrong set at = ? where at > ?", [book.now(), book.now()])
    account = book.hashed(key)
    if browser:
        own = Place(book.hashed(f"browser\n{key}\n{browser}"), BROWSER, account)
        if held_s(con, [own]) < math.inf:
            return [own]  # a stranger's attempts, or a neighbour's, keep nobody out who is known
    return [Place(book.hashed(f"account\n{key}"), ACCOUNT, account),
            Place(book.hashed(f"address\n{neighbourhood(address)}"), ADDRESS)]


def plain_address(address: str) -> str:
    """Return an address in one form; what is none stays as it is.

    Examples
    --------
    >>> plain_address("::ffff:192.0.2.7"), plain_address("2001:DB8:0::1"), plain_address("x")
    ('192.0.2.7', '2001:db8::1', 'x')
    """
    try:
        found = ipaddress.ip_address(address.strip())
    except ValueError:
        return address
    mapped = found.ipv4_mapped if isinstance(found, ipaddress.IPv6Address) else None
    return str(mapped or found)


def neighbourhood(address: str) -> str:
    """Return the addresses that one household or machine can take at will, as one.

    Examples
    --------
    >>> neighbourhood("192.0.2.7"), neighbourhood("2001:db8::1")
    ('192.0.2.7', '2001:db8::/64')
    """
    plain = plain_address(address)
    try:
        return str(ipaddress.ip_network(f"{ipaddress.IPv6Address(plain)}/64", strict=False))
    except ValueError:
        return plain


def held_s(con: sqlite3.Connection, places: list[Place]) -> float:
    """Return how long an attempt has to wait, s; 0 where it may be made now."""
    left = [place.rule.wait_s(number) - passed for place in places
            for number, passed in [_counted(con, place)]]
    return max(0.0, *left)


def is_news(con: sqlite3.Connection, places: list[Place]) -> bool:
    """Tell whether it has not been told yet that attempts at these places are held back."""
    con.execute(TOLD)
    con.execute("delete from told where until_at <= ? or until_at > ?",
                [book.now(), book.now() + TOLD_S])
    held = [(place.name, wait_s) for place in places if (wait_s := held_s(con, [place]))]
    known = {place for (place,) in con.execute("select place from told")}
    if known & {place for place, _ in held}:
        return False
    con.executemany("insert into told values (?, ?)",
                    [(place, book.now() + min(wait_s, TOLD_S)) for place, wait_s in held])
    return True


def count(con: sqlite3.Connection, places: list[Place]) -> None:
    """Count a wrong attempt."""
    accounts = [book.hashed(key) for (key,) in con.execute("select key from account")]
    con.execute("delete from wrong where at < ? and of_account not in "
                "(select value from json_each(?))",
                [book.now() - FORGOTTEN_S, json.dumps(accounts)])
    for place in places:
        con.execute("insert or replace into wrong values (?, ?, ?, ?)",
                    [place.name, place.account, _counted(con, place)[0] + 1, book.now()])


def forgive(con: sqlite3.Connection, places: list[Place]) -> None:
    """Take back what a right password was counted for: all of the account's, one of the address.

    Else somebody with an account of their own could try as many others as they like from there.
    """
    for place in places:
        if place.account:
            con.execute("delete from wrong where place = ?", [place.name])
        else:
            con.execute("update wrong set number = max(0, number - 1) where place = ?",
                        [place.name])


def forget(con: sqlite3.Connection, key: str) -> int:
    """Forget all wrong attempts for an account and return how many there were."""
    con.execute(TABLE)
    account = book.hashed(key)
    number = con.execute("select coalesce(sum(number), 0) from wrong where of_account = ?",
                         [account]).fetchone()[0]
    con.execute("delete from wrong where of_account = ?", [account])
    return int(number)


def in_words(wait_s: float) -> str:
    """Return what to do until the next attempt.

    Examples
    --------
    >>> in_words(42.1)
    'Too many wrong attempts. Try again in 43 seconds, or ask a keeper for a link.'
    """
    if wait_s == math.inf:
        return ("Too many wrong attempts. A keeper can make you a link, or unlock the name on the "
                "command line (braidlife account unlock).")
    when = (counted(math.ceil(wait_s), "second") if wait_s < 120
            else counted(math.ceil(wait_s / 60), "minute"))
    return f"Too many wrong attempts. Try again in {when}, or ask a keeper for a link."


def _counted(con: sqlite3.Connection, place: Place) -> tuple[float, float]:
    """Return how many wrong attempts count for a place, and how long ago the last one was, s."""
    row = con.execute("select number, at from wrong where place = ?", [place.name]).fetchone()
    if row is None:
        return 0.0, 0.0
    passed = book.now() - row[1]
    return max(0.0, row[0] - passed / place.rule.forgets_one_s), passed
