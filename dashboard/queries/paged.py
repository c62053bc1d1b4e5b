"""One page of a table, sorted and filtered in the database by listed columns only."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from dashboard.queries.edition import Row, ask, stream

MOST_ROWS = 500
"""No request may ask for more rows than this at once."""

FILTER = "filter_"
"""Begins the name of a hidden column that stands for a filter of the page."""


@dataclass(frozen=True)
class PagedTable:
    """A table that pages on the server. Every text in it is a constant of this package.

    Attributes
    ----------
    source : str
        SQL after ``from``, joins included.
    columns : mapping of str to str
        Name seen by the browser to SQL expression.
    key : str
        Expression that is unique over the rows and ends every order.
    order : str
        Order when the browser asks for none.
    filters : mapping of str to str
        Name seen by the browser to a condition with one ``?`` for its value.
    sorts : mapping of str to str
        Columns that are sorted by another expression than the one that is shown.
    number : str
        Column that numbers the rows from 1 in the order in which they are stored, where there is
        one: a page without filter or order is then cut out by its numbers, and a download needs no
        order of its own.
    """

    source: str
    columns: Mapping[str, str]
    key: str
    order: str
    filters: Mapping[str, str] = field(default_factory=dict)
    sorts: Mapping[str, str] = field(default_factory=dict)
    number: str = ""

    def select(self, filters: Mapping[str, Any]) -> tuple[str, list[Any]]:
        """Return the statement without order and limits, and its bound values.

        Parameters
        ----------
        filters : mapping
            Name to value. A name that is not listed, or an empty value, is left aside.
        """
        where, values = self._where(filters)
        return self._head() + where, values

    def _head(self) -> str:
        wanted = ", ".join(f'{sql} as "{name}"' for name, sql in self.columns.items())
        return f"select {wanted} from {self.source}"

    def _where(self, filters: Mapping[str, Any]) -> tuple[str, list[Any]]:
        used = [(n, v) for n, v in filters.items() if n in self.filters and v not in (None, "")]
        if not used:
            return "", []
        conditions = " and ".join(f"({self.filters[name]})" for name, _ in used)
        return f" where {conditions}", [str(value) for _, value in used]

    def order_by(self, sort: list[Mapping[str, Any]]) -> str:
        """Return the order for what the browser asks, the unique key last."""
        parts = [
            f"{self.sorts.get(item['colId'], self.columns[item['colId']])}"
            f" {'desc' if item.get('sort') == 'desc' else 'asc'}"
            " nulls last"
            for item in sort
            if item.get("colId") in self.columns
        ]
        return " order by " + ", ".join(filter(None, [*(parts or [self.order]), self.key]))

    def count(self, filters: Mapping[str, Any]) -> int:
        """Return how many rows the filters leave."""
        where, values = self._where(filters)
        return int(ask(f"select count(*) as n from {self.source}{where}", values)[0]["n"])

    def page(
        self, filters: Mapping[str, Any], sort: list[Mapping[str, Any]], start: int, stop: int
    ) -> list[Row]:
        """Return rows `start` up to `stop` (not included) in the asked order."""
        where, values = self._where(filters)
        order = self.order_by(sort)
        start = max(0, start)
        size = min(MOST_ROWS, max(0, stop - start))
        if self.number and not where and order == self.order_by([]):
            return ask(f"{self._head()} where {self.number} between ? and ?{order}",
                       [start + 1, start + size])
        return ask(self._head() + where + order + " limit ? offset ?", [*values, size, start])

    def stream(
        self, filters: Mapping[str, Any]
    ) -> tuple[list[str], Iterator[list[tuple[Any, ...]]]]:
        """Return the column names and all rows in batches, for a download."""
        statement, values = self.select(filters)
        return stream(statement + ("" if self.number else self.order_by([])), values)


def named(kind: str, column: str) -> str:
    """Return what sorts a column of names as people count: P-2 before P-10."""
    return f"(select n.name_no from names as n where n.kind = '{kind}' and n.name = {column})"


def asked_filters(request: Mapping[str, Any]) -> dict[str, str]:
    """Return name and value of every filter in a request of the browser's table."""
    model = request.get("filterModel")
    if not isinstance(model, Mapping):
        return {}
    return {
        str(name).removeprefix(FILTER): str(item["filter"])
        for name, item in model.items()
        if isinstance(item, Mapping) and item.get("filter") not in (None, "")
    }


def asked_sort(request: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Return the sort orders of a request; anything malformed is left aside."""
    model = request.get("sortModel")
    return [item for item in model if isinstance(item, Mapping)] if isinstance(model, list) else []


def asked_rows(request: Mapping[str, Any]) -> tuple[int, int]:
    """Return the first row and the row after the last that a request asks for."""
    try:
        start, stop = int(request.get("startRow", 0)), int(request.get("endRow", 100))
    except (TypeError, ValueError):
        return 0, 0
    return start, stop
