"""Which currency stands beside an amount, in a cell or in the name of a column."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from functools import cache

from etl.load.seeds import rows

BLANKS = "[ \u00a0\u202f]*"


@cache
def marks(currency: str = "") -> tuple[str, ...]:
    """Return the marks under which a currency is written; those of all known ones without one.

    Examples
    --------
    >>> marks("EUR"), marks("XTS")
    (('EUR', '€'), ('XTS',))
    """
    known = [row for row in rows("currencies") if currency in ("", row["currency"])]
    found = {row[name] for row in known for name in ("currency", "sign")}
    return tuple(sorted(found | ({currency} if currency else set())))


@cache
def mark_pattern(currency: str = "") -> str:
    """Return the pattern of a mark of a currency, longest first, whatever its case."""
    longest_first = sorted(marks(currency), key=lambda mark: (-len(mark), mark))
    return f"(?:{'|'.join(re.escape(mark) for mark in longest_first)})"


def before_or_after(currency: str = "") -> str:
    """Return the pattern of a mark at the beginning or the end of a cell, with its blanks."""
    mark = mark_pattern(currency)
    return f"(?i)^{mark}{BLANKS}|{BLANKS}{mark}$"


def _beside(text: str) -> re.Match[str] | None:
    """Find the mark of an amount; one of letters stands apart, or a tag would be an amount."""
    found = re.search(before_or_after(), text)
    if found is None or not any(sign.isdigit() for sign in text):
        return None
    is_apart = re.search(f"{BLANKS[:-1]}", found[0]) is not None
    return found if is_apart or not found[0].strip().isalpha() else None


def without_mark(text: str) -> str:
    """Return an amount without the mark of its currency; a cell that is no amount as it is.

    Examples
    --------
    >>> without_mark("€ 12.50"), without_mark("1.234,50 EUR"), without_mark("KR100")
    ('12.50', '1.234,50', 'KR100')
    """
    found = _beside(text)
    return text[:found.start()] + text[found.end():] if found else text


def written_beside(texts: Sequence[str]) -> str:
    """Return the currency whose mark most amounts bear; empty where none does.

    A sign that several currencies share stands for the first of them in the table.

    Examples
    --------
    >>> written_beside(["€ 12", "13 EUR", "$ 4", "5"])
    'EUR'
    """
    found = Counter(_meant(mark[0]) for text in texts if (mark := _beside(text)))
    return found.most_common(1)[0][0] if found else ""


def in_name(name: str) -> str:
    """Return the currency that the name of a column states; empty where it states none.

    Examples
    --------
    >>> in_name("Kosten (€)"), in_name("Price EUR"), in_name("Error try")
    ('EUR', 'EUR', '')
    """
    words = re.split(r"[\s()\[\]{},;/_]+", name.strip())
    known = {mark for mark in marks() if len(mark) > 1 or not mark.isalnum()}
    found = [word for word in words[::-1] if word in known]
    return _meant(found[0]) if found and len(words) > 1 else ""


def _meant(mark: str) -> str:
    mark = mark.strip(" \u00a0\u202f").casefold()
    return next(row["currency"] for row in rows("currencies")
                if mark in (row["currency"].casefold(), row["sign"].casefold()))
