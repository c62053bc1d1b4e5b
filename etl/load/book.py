"""What a workbook is to its reader, whichever of the two binary forms it has."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any, Self

Cell = Any
"""A text, a truth value, a number, a day, a time or a length of time; empty is ``""``."""
Corner = tuple[int, int]
"""Row and column, both from 0."""
LITERAL = re.compile(r'"([^"]*)"|\\(.)|([- /])')


class Shown(float):
    """A number that its format shows with leading zeros or letters, as in 0017 or H-17."""

    text: str

    def __new__(cls, number: float, text: str) -> Self:
        """Keep the shown text beside the number."""
        made = super().__new__(cls, number)
        made.text = text
        return made


class ProtectedError(Exception):
    """The workbook cannot be opened without its password."""


@dataclass
class Page:
    """One sheet: its rows in order, blank ones too, each cut to the same columns."""

    name: str
    left: int
    """Column of the sheet in which the first cell of a row stands, from 0."""
    rows: Callable[[], Iterator[list[Cell]]]
    merged: list[tuple[Corner, Corner]] = field(default_factory=list)
    """First and last cell of each merged range."""
    count_errors: Callable[[], int] = lambda: 0
    """Count the cells that hold an error; they are read as empty."""


@dataclass(frozen=True)
class Book:
    """An open workbook."""

    names: list[str]
    visible: list[str]
    starts_1904: bool
    page: Callable[[str], Page]


@dataclass(frozen=True)
class ShownFormat:
    """A number format made of zeros and letters only: what it shows is a name, not a quantity."""

    parts: tuple[str, ...]
    """Each ``"0"`` takes a digit; any other text is shown as it stands."""

    def text(self, number: float) -> str | None:
        """Return what is shown for a number; None where the format is not made for it."""
        if number < 0 or not number.is_integer() or number >= 1e15:
            return None
        n_zeros = self.parts.count("0")
        digits = str(int(number)).zfill(n_zeros)
        left = [digits[: len(digits) - n_zeros + 1], *digits[len(digits) - n_zeros + 1:]]
        return "".join(left.pop(0) if part == "0" else part for part in self.parts)


def shown_format(code: str) -> ShownFormat | None:
    """Read a number format; None where it shows a plain number, an amount or a day.

    Examples
    --------
    >>> shown_format("0000").text(17.0), shown_format('"H-"00').text(123.0), shown_format("0.00")
    ('0017', 'H-123', None)
    """
    code = code.split(";")[0]
    parts: list[str] = []
    position = 0
    while position < len(code):
        found = LITERAL.match(code, position)
        if found:
            parts.append(" " * bool(found[3] == " ") or next(filter(None, found.groups()), ""))
            position = found.end()
        elif code[position] == "0":
            parts.append("0")
            position += 1
        else:
            return None
    n_zeros = parts.count("0")
    has_letter = n_zeros > 0 and any(sign.isalpha() for sign in "".join(parts[:parts.index("0")]))
    return ShownFormat(tuple(parts)) if n_zeros > 1 or has_letter else None
