"""What was done last, in words: for the page of the accounts, and as a short list for keepers."""

from __future__ import annotations

import datetime as dt
from typing import Any

from dash import html

from dashboard import parts
from dashboard.accounts import who
from etl import audit

N_SHORT = 6
MONTHS = f"Kept in the store, a file a month, for {audit.MOST_MONTHS} months."


def _fact(name: str, value: Any) -> str:
    """Return a fact of a line as one would say it.

    Examples
    --------
    >>> _fact("rows", 26300), _fact("edition", 1), _fact("log", "trials")
    ('26,300 rows', 'edition 1', 'log trials')
    """
    if name == "rows" and isinstance(value, int):
        return f"{value:,} {'row' if value == 1 else 'rows'}"
    return f"{name.replace('_', ' ')} {value}"


def line(item: dict[str, Any]) -> tuple[str, str, str, str]:
    """Return moment, who, what and the rest of a line of the audit log."""
    rest = ", ".join(_fact(name, value) for name, value in item.items()
                     if name not in ("at", "who", "what", "entry_id"))
    try:
        at = dt.datetime.fromisoformat(str(item.get("at"))).strftime("%d %b %Y %H:%M")
    except ValueError:
        at = ""
    return at, str(item.get("who", "")), str(item.get("what", "")), rest


def lines(number: int) -> list[tuple[str, str, str, str]]:
    """Return what was done last, newest first."""
    return [line(item) for item in audit.latest(who.store(), number)]


def block() -> html.Section | None:
    """Return the short list for who may keep accounts; None for all others, and without lines."""
    told = lines(N_SHORT) if who.may("keeper") else []
    if not told:
        return None
    caption: list[Any] = [MONTHS]
    if who.has_accounts():
        caption += [" ", html.A("More, and the accounts", href="/accounts")]
    return parts.section("What was done last", caption, parts.table(
        ["When", "Who", "What", "About"], told, className="done"))
