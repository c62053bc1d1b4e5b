"""When planned work falls due: the age that rules, and the day it is best done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

EARLIEST_SHARE = 0.5
"""A required change is not drawn into a shutdown before half its interval has passed."""
NO_WINDOW = -1


@dataclass(frozen=True)
class Window:
    """A shutdown, in days after the data date; the first day after it is day 1."""

    first: int
    last: int


@dataclass(frozen=True)
class RulingAge:
    """The age at which each hose is to be changed.

    Attributes
    ----------
    age : ndarray, shape (n,), days
        Infinite where neither a required interval nor a preventive age is set.
    is_required : ndarray of bool, shape (n,)
        The required interval is the earlier of the two.
    earliest, latest : ndarray, shape (n,), days
        Ages between which the day may be moved into a shutdown.
    """

    age: Floats
    is_required: Bools
    earliest: Floats
    latest: Floats

    def of(self, mine: Ints) -> RulingAge:
        """Return the ages of some of the hoses."""
        return RulingAge(self.age[mine], self.is_required[mine], self.earliest[mine],
                         self.latest[mine])


def ruling_age(
    preventive: Floats, flat_from: Floats, flat_to: Floats, required: Floats
) -> RulingAge:
    """Take the earlier of the preventive age and the required interval.

    Parameters
    ----------
    preventive : ndarray, shape (n,), days
        Age that pays; NaN where none does.
    flat_from, flat_to : ndarray, shape (n,), days
        Ages that cost about the same; `flat_to` may be infinite.
    required : ndarray, shape (n,), days
        Greatest age that the site's rules allow; NaN where they state none.

    Returns
    -------
    RulingAge

    Notes
    -----
    A required interval rules whatever the cost: it may be moved forward, never back.
    """
    paying = np.where(np.isnan(preventive), np.inf, preventive)
    allowed = np.where(np.isnan(required), np.inf, required)
    is_required = allowed <= paying
    is_required &= np.isfinite(allowed)
    age = np.minimum(paying, allowed)
    earliest = np.where(is_required, EARLIEST_SHARE * allowed, np.nan_to_num(flat_from))
    latest = np.where(is_required, allowed, np.minimum(np.nan_to_num(flat_to, nan=np.inf,
                                                                     posinf=np.inf), allowed))
    return RulingAge(age, is_required, np.minimum(earliest, age), np.maximum(latest, age))


def days_to_work(
    present: Floats, ruling: RulingAge, windows: Sequence[Window]
) -> tuple[Floats, Ints]:
    """Return in how many days each hose is to be changed.

    Parameters
    ----------
    present : ndarray, shape (n,), days
        Age of the hose in service at the data date.
    ruling : RulingAge
    windows : sequence of Window
        Shutdowns of the site, in order; none means that any day will do.

    Returns
    -------
    days : ndarray, shape (n,)
        At least 1, the day after the data date, which is when overdue work is due; infinite
        where no age rules.
    window : ndarray of int, shape (n,)
        The shutdown that it was moved into; `NO_WINDOW` where none lies between the ages that
        cost about the same.

    Notes
    -----
    Work due after the last shutdown known stays on its day: the next ones are not known yet.
    """
    days = np.maximum(ruling.age - present, 1.0)
    earliest, latest = ruling.earliest - present, np.maximum(ruling.latest - present, 1.0)
    is_known = days <= max((window.last for window in windows), default=0)
    best, chosen = np.full(days.shape, np.inf), np.full(days.shape, NO_WINDOW)
    planned = days.copy()
    for number, window in enumerate(windows):
        # The days of the shutdown that lie between the ages that cost about the same.
        first = np.maximum(np.maximum(earliest, window.first), 1.0)
        last = np.minimum(latest, window.last)
        day = np.clip(days, first, np.maximum(last, first))
        away = np.where((first <= last) & is_known, np.abs(day - days), np.inf)
        nearer = away < best
        best = np.where(nearer, away, best)
        planned, chosen = np.where(nearer, day, planned), np.where(nearer, number, chosen)
    return planned, chosen.astype(np.int64)
