"""Clocks that lives are counted by: calendar days, run hours, cycles; and how ages are written."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dashboard import words


@dataclass(frozen=True)
class Clock:
    """One way to count the age of a hose.

    Attributes
    ----------
    name : str
        In addresses and in column ``clock``.
    title : str
        As a choice.
    many : str
        Unit after a number.
    short : str
        Unit where there is little room.
    axis : str
        Title of an axis of ages.
    suffix : str
        End of the names of columns in this unit.
    century : float or None
        A bound beyond a century says no more than "or more"; None where no calendar tells one.
    """

    name: str
    title: str
    many: str
    short: str
    axis: str
    suffix: str
    century: float | None


DAYS = Clock("days", "calendar days", "days", "d", "days in service", "_days", 36_525.0)
CLOCKS = {clock.name: clock for clock in (
    DAYS,
    Clock("run_hours", "run hours", "run hours", "h", "run hours", "", 24.0 * 36_525.0),
    Clock("cycles", "cycles", "cycles", "cycles", "cycles", "", None),
)}  # fmt: skip
WIDE = 1000.0
"""Times its lower end from which on the upper end of a range says no more than "or more"."""


def of(row: Any) -> Clock:
    """Return the clock of a row: that of its column ``clock``, days where it has none."""
    return CLOCKS[row.get("clock") or DAYS.name]


def offered(names: list[str]) -> dict[str, str]:
    """Return the choices of a clock: days first, the others where they hold readings.

    Examples
    --------
    >>> offered(["cycles"])
    {'days': 'calendar days', 'cycles': 'cycles'}
    """
    return {name: clock.title for name, clock in CLOCKS.items()
            if clock is DAYS or name in names}  # fmt: skip


def usual_estimate(clock: Clock) -> str:
    """Return the estimate that pages lead with: pooled in days, stand-alone by other clocks."""
    return "pooled" if clock is DAYS else "alone"


def age(value: float | None, clock: Clock) -> str:
    """Return an age with its unit.

    Examples
    --------
    >>> age(1.0, DAYS), age(1990.4, CLOCKS["run_hours"]), age(0.42, CLOCKS["run_hours"])
    ('1 day', '1,990 run hours', '0.42 run hours')
    """
    if value is None or clock is DAYS:
        return words.days(value)
    return f"{value:,.0f} {clock.many}" if value >= 10 else f"{words.number(value)} {clock.many}"


def is_open(lower: float | None, upper: float | None, clock: Clock) -> bool:
    """Tell whether the upper end of a range says no more than "or more".

    Examples
    --------
    >>> is_open(62.0, 445_000.0, DAYS), is_open(62.0, 445_000.0, CLOCKS["run_hours"])
    (True, False)
    >>> is_open(62.0, 445_000.0, CLOCKS["cycles"])
    True
    """
    if upper is None:
        return True
    if clock.century is not None:
        return upper > clock.century
    return lower is not None and upper > WIDE * lower
