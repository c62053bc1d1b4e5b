"""Survival without any law of life, for lives seen failed, found failed, suspended or entered late.

Turnbull's estimate; the product-limit estimate where every failure is seen.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from etl.errors import FitError

Floats = NDArray[np.float64]

MAX_ROUNDS = 20_000
PRECISION = 1e-9
FADED = 1e-12


@dataclass(frozen=True)
class FreeSurvival:
    """Shares failed within the only spans of age that can hold any.

    Attributes
    ----------
    start, end : ndarray, shape (n_spans,)
        Failed after ``start`` and not after ``end``; equal for failures that were seen. The last
        span may end at infinity: the share that no failure reaches.
    share : ndarray, shape (n_spans,)
        They add up to one.
    log_likelihood : float
    is_settled : bool
        False if the search was cut short.
    """

    start: Floats
    end: Floats
    share: Floats
    log_likelihood: float
    is_settled: bool

    def survival(self, age: ArrayLike) -> tuple[Floats, Floats]:
        """Return the least and the greatest survival to ages that the estimate allows.

        Parameters
        ----------
        age : array_like of float, shape (n,)

        Returns
        -------
        lower, upper : ndarray, shape (n,)
            They differ within a span, of which nobody knows when in it failures came.
        """
        ages = np.asarray(age, np.float64)
        begun = np.concatenate([[0.0], np.cumsum(self.share)])
        earliest = _earliest(self.start, self.end)
        lower = 1.0 - begun[np.searchsorted(earliest, ages, side="right")]
        upper = 1.0 - begun[np.searchsorted(self.end, ages, side="right")]
        return np.maximum(lower, 0.0), np.maximum(upper, 0.0)


def free_survival(
    entry: ArrayLike, low: ArrayLike, high: ArrayLike, count: ArrayLike,
    max_rounds: int = MAX_ROUNDS, precision: float = PRECISION,
) -> FreeSurvival:
    """Estimate survival of one group of lives without a law.

    Parameters
    ----------
    entry, low, high, count : array_like of float, shape (n,)
        As in `etl.life.fit.fit_strata`.
    max_rounds : int
        After so many the search is cut short.
    precision : float
        Greatest change of a share in a round at which the search is over.

    Returns
    -------
    FreeSurvival

    Raises
    ------
    FitError
        There are no lives, or one contradicts itself.

    Notes
    -----
    Failures can only have come in spans that open at the lower end of a life and close at the
    next upper end or entry. Shares are found by self-consistency: each life is shared out over
    its span as the shares now stand, together with those that late entry kept from being seen;
    every second round is extrapolated, and the leap given up where the likelihood falls.

    References
    ----------
    Turnbull (1976), Journal of the Royal Statistical Society B 38; spans with late entry:
    Frydman (1994), the same journal, B 56 (both from memory); extrapolation: Varadhan and Roland
    (2008), Scandinavian Journal of Statistics 35 (from memory).

    Examples
    --------
    >>> found = free_survival([0.0] * 3, [10.0, 20.0, 30.0], [10.0, np.inf, 30.0], [1.0] * 3)
    >>> found.start.tolist(), found.share.round(4).tolist()
    ([10.0, 30.0], [0.3333, 0.6667])
    """
    entries, lows, highs, counts = (np.asarray(part, np.float64)
                                    for part in (entry, low, high, count))
    lows = np.maximum(lows, entries)
    _refuse(entries, lows, highs, counts)
    start, end = _spans(entries, lows, highs)
    rows = _Rows(start, end, entries, lows, highs, counts)
    share, is_settled = rows.settle(max_rounds, precision)
    kept = share > FADED
    return FreeSurvival(start[kept], end[kept], share[kept] / share[kept].sum(),
                        rows.log_likelihood(share), is_settled)


def _refuse(entry: Floats, low: Floats, high: Floats, count: Floats) -> None:
    """Raise unless every life is possible."""
    good = (entry >= 0.0) & (high >= low) & (high > entry) & (count > 0.0) & np.isfinite(low)
    if not low.size or not good.all():
        raise FitError(
            f"survival without a law: lives must end after they began, found {low.size} lives, "
            f"{int(np.count_nonzero(~good))} of them impossible. Correct or leave out such rows.")


def _spans(entry: Floats, low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Return the spans that open at a lower end and close at the next upper end or entry."""
    is_seen = low == high
    late = entry[entry > 0.0]
    # at one age: failures seen there open their span, all spans close, other lives open theirs
    value = np.concatenate([low, high, late])
    rank = np.concatenate([np.where(is_seen, 0, 2), np.ones(high.size + late.size)])
    opens = np.concatenate([np.ones(low.size), np.zeros(low.size + late.size)]) > 0.0
    order = np.lexsort((rank, value))
    value, opens = value[order], opens[order]
    here = np.flatnonzero(opens[:-1] & ~opens[1:])
    return value[here], value[here + 1]


class _Rows:
    """Lives as runs of spans: those that each may have failed in, those it could be seen in."""

    def __init__(
        self, start: Floats, end: Floats, entry: Floats, low: Floats, high: Floats, count: Floats
    ) -> None:
        """Find the runs, equal ones together."""
        earliest = _earliest(start, end)
        first = np.searchsorted(earliest, np.where(low == high, np.nextafter(low, 0.0), low),
                                side="right")
        last = np.searchsorted(end, high, side="right")
        runs = np.stack([first, last, np.searchsorted(earliest, entry, side="right")])
        both, which = np.unique(runs, axis=1, return_inverse=True)
        self.first, self.last, opened = both.astype(np.intp)
        self.count = np.bincount(which.ravel(), count)
        # lives that could be seen from the same span on, most often the first, share one sum
        self.open, batch = np.unique(opened, return_inverse=True)
        self.entered = np.bincount(batch.ravel(), self.count)
        self.n_spans = start.size

    def log_likelihood(self, share: Floats) -> float:
        """Return the log-likelihood of shares."""
        total = np.concatenate([[0.0], np.cumsum(share)])
        own, seen = total[self.last] - total[self.first], total[-1] - total[self.open]
        with np.errstate(divide="ignore", invalid="ignore"):
            value = float(self.count @ np.log(own) - self.entered @ np.log(seen))
        return value if np.isfinite(value) else -np.inf

    def next_share(self, share: Floats) -> Floats:
        """Return the shares after one round of self-consistency."""
        total = np.concatenate([[0.0], np.cumsum(share)])
        own = np.maximum(total[self.last] - total[self.first], 1e-300)
        seen = np.maximum(total[-1] - total[self.open], 1e-300)
        width, mine, batch = self.n_spans + 1, self.count / own, self.entered / seen
        # lives that failed before they could enter, one batch for each that did enter
        change = np.bincount(self.first, mine, width) - np.bincount(self.last, mine, width)
        change[self.open] -= batch
        change[0] += float(batch.sum())
        fresh = share * np.maximum(np.cumsum(change[:-1]), 0.0)
        return np.asarray(fresh / fresh.sum())

    def settle(self, max_rounds: int, precision: float) -> tuple[Floats, bool]:
        """Return the shares of greatest likelihood, and whether they were reached."""
        share = np.full(self.n_spans, 1.0 / self.n_spans)
        for _ in range(max_rounds):
            one = self.next_share(share)
            two = self.next_share(one)
            step, bend = one - share, two - 2.0 * one + share
            if np.abs(two - one).max() < precision and np.abs(step).max() < precision:
                return two, True
            size = float(np.sqrt(np.sum(bend * bend)))
            reach = max(1.0, float(np.sqrt(np.sum(step * step))) / max(size, 1e-300))
            leap = np.maximum(share + 2.0 * reach * step + reach * reach * bend, 0.5 * two)
            leap = self.next_share(leap / leap.sum())
            share = leap if self.log_likelihood(leap) >= self.log_likelihood(two) else two
        return share, False


def _earliest(start: Floats, end: Floats) -> Floats:
    """Return the first age within each span: its start only where failures were seen there."""
    return np.where(start == end, start, np.nextafter(start, np.inf))
