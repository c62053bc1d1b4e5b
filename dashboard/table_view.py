"""The order and the page of a large table, as the address names them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

SORT, PAGE = "sort", "page"
NAMES = (SORT, PAGE)
"""Names in the address; the browser writes them (assets/e_address.js)."""
FALLING = "-"
"""Stands before a column's name where its largest value comes first."""


@dataclass(frozen=True)
class View:
    """What of a table an address asks for.

    Attributes
    ----------
    sort : mapping of str to str
        Column to ``asc`` or ``desc``, the first in order first.
    page : int
        Counted from 1.
    faults : sequence of str
        What the address asks for that does not exist, in words; it is then left aside.
    """

    sort: Mapping[str, str]
    page: int = 1
    faults: Sequence[str] = ()


def called(column: Mapping[str, Any]) -> str:
    """Return the short name that a column has in the address."""
    return str(column.get("context", {}).get("called") or column["colId"])


def asked_view(query: Mapping[str, Any], columns: Sequence[Mapping[str, Any]]) -> View:
    """Return the order and the page of an address.

    Parameters
    ----------
    query : mapping
        The address's names and values.
    columns : sequence of dict
        Columns of the table.

    Examples
    --------
    >>> cost = {"colId": "expected_cost", "context": {"called": "cost"}}
    >>> asked_view({"sort": "-cost", "page": "3"}, [cost])
    View(sort={'expected_cost': 'desc'}, page=3, faults=())
    >>> asked_view({"sort": "price", "page": "last"}, [cost]).faults
    ('The table cannot be sorted by “price”', '“last” is not the number of a page')
    """
    known = {called(column): str(column["colId"]) for column in columns
             if column.get("sortable", True)}
    sort, faults = {}, []
    for item in filter(None, str(query.get(SORT) or "").split(",")):
        name = item.removeprefix(FALLING)
        if name in known:
            sort[known[name]] = "desc" if item.startswith(FALLING) else "asc"
        else:
            faults.append(f"The table cannot be sorted by “{name[:80]}”")
    page = str(query.get(PAGE) or "1")
    is_number = page.isdecimal() and page.isascii() and 0 < int(page[:9])
    if not is_number:
        faults.append(f"“{page[:80]}” is not the number of a page")
    return View(sort, int(page[:9]) if is_number else 1, tuple(faults))


def sorted_columns(columns: Sequence[dict[str, Any]], view: View) -> list[dict[str, Any]]:
    """Return the columns with the order that a table begins with."""
    places = {name: place for place, name in enumerate(view.sort)}
    return [
        {**column, "initialSort": view.sort[column["colId"]],
         "initialSortIndex": places[column["colId"]]}
        if column["colId"] in view.sort else column
        for column in columns
    ]  # fmt: skip


def first_page(view: View, n_rows: int, page_rows: int) -> int:
    """Return the page to begin with, counted from 0: the last one where there are fewer."""
    return min(view.page, max(1, -(-n_rows // page_rows))) - 1
