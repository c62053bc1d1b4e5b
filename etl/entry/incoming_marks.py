"""What the marks in numbers mean: as the cells tell, or as a person says where they cannot."""

from __future__ import annotations

import re
from collections.abc import Sequence

from etl.load.currency import without_mark
from etl.load.look import Look
from etl.load.quoting import BLANK_SIGNS

THREE_BEHIND = re.compile(r"[-+]?\d{1,3}([.,]\d{3})+", re.ASCII)
ANY_MARK = re.compile(r"[-+]?\d+[.,][\d.,]*", re.ASCII)
LONGEST = 32
"""Signs of a number; one of thousands of digits is none."""
POINTS_PART = re.compile(r"[-+]?\d{1,3}(\.\d{3})+(,\d*)?", re.ASCII)
"""A number with a comma before its decimals, if any, and points between thousands."""


def open_mark(looks: Sequence[Look]) -> str:
    """Return a number that can be read in two ways; empty where the cells tell.

    Parameters
    ----------
    looks : sequence of Look
        Columns that are to hold numbers or amounts.
    """
    marked = _marked(looks)
    is_open = {sign for text in marked for sign in text if sign in ".,"} in ({"."}, {","})
    return marked[0] if is_open and all(map(THREE_BEHIND.fullmatch, marked)) else ""


def marks_among(looks: Sequence[Look], said: str) -> tuple[str, str]:
    """Return decimal mark and mark between thousands of the numbers of a file.

    Parameters
    ----------
    looks : sequence of Look
        As in `open_mark`.
    said : str
        The two marks as a person chose them, for this file or an earlier one of its form; they
        count only where the cells do not tell.
    """
    marked = _marked(looks)
    if said and (not marked or open_mark(looks)):
        return said[0], said[1:]
    found = {(look.decimal, look.thousands or "") for look in looks if look.decimal}
    decimal, thousands = max(found, default=(".", ""),
                             key=lambda mark: (mark[0] == ",", mark[1]))
    pointed = [text for text in marked if "." in text]
    if (decimal, thousands) == (",", "") and pointed and all(
            map(POINTS_PART.fullmatch, pointed)):
        thousands = "."  # another column has told already what the comma is
    return decimal, thousands


def _marked(looks: Sequence[Look]) -> list[str]:
    """Return the numbers with a point or comma, without the mark of a currency."""
    texts = [without_mark(text.strip(BLANK_SIGNS)) for look in looks for text, _ in look.values]
    return [text for text in texts if len(text) <= LONGEST and ANY_MARK.fullmatch(text)]
