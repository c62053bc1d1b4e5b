"""The axis that every dot on a line of a table shares."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Axis:
    """A scale from `low` to `high`, linear or logarithmic, with the ticks to print."""

    low: float
    high: float
    ticks: tuple[float, ...]
    is_log: bool = False

    def position(self, value: float) -> float:
        """Return where a value lies, in percent of the axis, held within 0 and 100."""
        if self.is_log:
            if value <= 0:
                return 0.0
            share = math.log(value / self.low) / math.log(self.high / self.low)
        else:
            share = (value - self.low) / (self.high - self.low)
        return 100.0 * min(1.0, max(0.0, share))


def linear_axis(values: Iterable[float | None], share: float = 0.95) -> Axis:
    """Return an axis from 0 to a round number that holds most of the values.

    Parameters
    ----------
    values : iterable of float or None
        Upper ends of the ranges to show.
    share : float
        Part of the values that must fit; the rest runs off the scale with an open end, so that
        one huge range does not squeeze all others.

    Examples
    --------
    >>> linear_axis([3.0, 17.0, None]).ticks
    (0.0, 10.0, 20.0)
    """
    known = sorted(v for v in values if v is not None and math.isfinite(v))
    top = known[min(len(known) - 1, math.ceil(share * len(known)) - 1)] if known else 1.0
    high = round_up(top if top > 0 else 1.0)
    return Axis(0.0, high, (0.0, high / 2, high))


def ratio_axis(span: float = 5.0) -> Axis:
    """Return a logarithmic axis around 1, the same distance down and up."""
    return Axis(1 / span, span, (1 / span, 1.0, span), is_log=True)


def log_axis(values: Iterable[float | None]) -> Axis:
    """Return a logarithmic axis from the smallest to the largest positive value, rounded out."""
    known = [v for v in values if v is not None and math.isfinite(v) and v > 0]
    low, high = (min(known), max(known)) if known else (1.0, 1000.0)
    low = 10.0 ** math.floor(math.log10(low))
    high = max(round_up(high), 10 * low)
    return Axis(low, high, (low, math.sqrt(low * high), high), is_log=True)


def round_up(value: float) -> float:
    """Return the next number of the kind 1, 2, 3, 4, 5, 6, 8 times a power of ten.

    Examples
    --------
    >>> round_up(17.0), round_up(41.0), round_up(0.7)
    (20.0, 50.0, 0.8)
    """
    power = 10.0 ** math.floor(math.log10(value))
    for factor in (1, 2, 3, 4, 5, 6, 8, 10):
        if value <= factor * power * (1 + 1e-12):
            return round(factor * power, 12)
    return 10 * power
