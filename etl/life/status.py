"""What a fit of one group of lives can end in."""

from __future__ import annotations

from enum import StrEnum


class Status(StrEnum):
    """Outcome of fitting a Weibull distribution to one stratum.

    Each member's value is the word that tables and the command line show.
    """

    OK = "ok"
    """Five failures or more and a finite estimate."""

    FEW_FAILURES = "few_failures"
    """One to four failures and a finite estimate; its bounds are wide."""

    NO_FAILURES = "no_failures"
    """Only suspensions: no estimate; a lower bound on the characteristic life needs a shape."""

    SHAPE_NOT_ESTIMABLE = "shape_not_estimable"
    """No life outlasts the failures, so the likelihood rises as the shape grows without end."""

    NO_FINITE_ESTIMATE = "no_finite_estimate"
    """The likelihood rises towards shape 0, as late entries with a falling hazard can make it."""

    NO_LIVES = "no_lives"
    """No life in the group was observed for any time."""


STATUSES: tuple[Status, ...] = tuple(Status)
"""Order behind the integer codes of `StrataFit.status`."""

FEW_FAILURES_BELOW = 5
SHAPE_FLOOR = 0.05
"""Smallest shape taken for an estimate; below it the likelihood is flat towards 0, and the ages by
which 1 % and 99 % fail would lie fifty powers of ten apart."""
SHAPE_CAP = 100.0
"""Greatest shape taken for an estimate; above it, failures coincide within the recording."""


def has_estimate(status: Status) -> bool:
    """Return whether a stratum of this status has a finite estimate."""
    return status in (Status.OK, Status.FEW_FAILURES)
