"""Answers that were given before: an edition never changes, so they stay true."""

from __future__ import annotations

import threading
from collections import OrderedDict
from typing import Any

MOST_KEPT_VALUES = 1_000_000
MOST_VALUES = 100_000
"""Values kept of one edition's answers, and of a single one: 100 megabytes at the very most."""
Row = dict[str, Any]


class LackingError(KeyError):
    """A row was asked for a column that its edition does not have."""


class Told(Row):
    """A row of an edition, which says so where the edition lacks what a page asks of it."""

    def __missing__(self, name: str) -> Any:
        """Tell a column that is not there from any other name that is not found."""
        raise LackingError(name)

    def __or__(self, other: Any) -> Any:
        """Return a row of the same kind with what was added."""
        return Told({**self, **other})


class Answers:
    """Answers that an edition has given already: it never changes, so they stay true.

    Long answers are not kept, and of the others the latest used, so that odd questions cost no
    memory.
    """

    def __init__(self) -> None:
        """Start with none."""
        self._lock = threading.Lock()
        self._kept: OrderedDict[tuple[str, str], list[Row]] = OrderedDict()
        self._n_values = 0

    def get(self, question: tuple[str, str]) -> list[Row] | None:
        """Return a copy of the answer to a question asked before, None for a new one."""
        with self._lock:
            if question not in self._kept:
                return None
            self._kept.move_to_end(question)
            return [Told(row) for row in self._kept[question]]

    def keep(self, question: tuple[str, str], rows: list[Row]) -> None:
        """Remember an answer, and forget those that were not asked for longest."""
        if _size(rows) > MOST_VALUES:
            return
        with self._lock:
            earlier = self._kept.pop(question, None)
            self._n_values += _size(rows) - (0 if earlier is None else _size(earlier))
            self._kept[question] = [Told(row) for row in rows]
            while self._n_values > MOST_KEPT_VALUES:
                self._n_values -= _size(self._kept.popitem(last=False)[1])


def _size(rows: list[Row]) -> int:
    """Return how many values rows hold; an answer without rows takes room too."""
    return 1 + len(rows) * (len(rows[0]) if rows else 0)
