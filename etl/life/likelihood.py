"""Log-likelihood in both parameters with its derivatives, interval lives included."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.life.exposure import Exposure
from etl.life.segments import Segments
from etl.life.strata import Strata

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

LOG_OF_ZERO = -1e4
"""Stands for the log of age 0: hazard accumulated by then is 0 at every shape allowed."""
GREATEST_EXPONENT = 600.0


@dataclass(frozen=True)
class Spans:
    """Interval lives of some strata: centred logs of both ends, counts and runs of strata."""

    low: Floats
    high: Floats
    weight: Floats
    runs: Segments

    def only(self, is_kept: Bools) -> Spans:
        """Return the rows of some of the strata."""
        rows, runs = self.runs.rows_of(is_kept)
        return Spans(self.low[rows], self.high[rows], self.weight[rows], runs)


@dataclass(frozen=True)
class Likelihood:
    """What the lives of some strata say, each stratum with at least one interval life.

    Attributes
    ----------
    strata : ndarray of int, shape (n,)
    n_failures, sum_log_failure, centre : ndarray, shape (n,)
    exposure : Exposure
        Of those strata that have any.
    spans : Spans
        Of all of them.
    """

    strata: Ints
    n_failures: Floats
    sum_log_failure: Floats
    centre: Floats
    exposure: Exposure
    spans: Spans

    def only(self, is_kept: Bools) -> Likelihood:
        """Return the likelihood of some of the strata, shape (n,)."""
        kept = self.strata[is_kept]
        return Likelihood(
            kept, self.n_failures[is_kept], self.sum_log_failure[is_kept], self.centre[is_kept],
            self.exposure.only(np.isin(self.exposure.runs.keys, kept, assume_unique=True)),
            self.spans.only(is_kept),
        )

    def sums(self, u: Floats, m: Floats) -> tuple[Floats, ...]:
        """Return log-likelihood and derivatives.

        Parameters
        ----------
        u : ndarray, shape (n,)
            Log shape.
        m : ndarray, shape (n,)
            Log characteristic life, less the centre.

        Returns
        -------
        tuple of ndarray, shape (n,)
            Log-likelihood, slopes by u and m, second derivatives by uu, um and mm.
        """
        b = np.exp(u)
        r, total = self.n_failures, self.sum_log_failure
        held = b * (total - r * m)
        constant = -total - r * self.centre
        value, by_u, by_m = r * u + held + constant, r + held, -b * r
        by_uu, by_um, by_mm = held.copy(), -b * r, np.zeros(u.size)
        parts = (value, by_u, by_m, by_uu, by_um, by_mm)
        self._add_exposure(b, m, parts)
        spans = _span_sums(self.spans, b, m)
        value += spans[0]
        by_u += spans[1]
        by_m -= b * spans[2]
        by_uu += spans[3]
        by_um += b * spans[4]
        by_mm += b * b * spans[5]
        return parts

    def _add_exposure(self, b: Floats, m: Floats, parts: tuple[Floats, ...]) -> None:
        """Subtract the hazard accumulated over the exposure."""
        keys = self.exposure.runs.keys
        if not keys.size:
            return
        at = np.searchsorted(self.strata, keys)
        b, m = b[at], m[at]
        factor = np.exp(np.clip(-b * m, -GREATEST_EXPONENT, GREATEST_EXPONENT))
        s0, s1, s2 = factor * self.exposure.sums(b, 2)
        first = b * (s1 - m * s0)
        second = first + b * b * (s2 - 2.0 * m * s1 + m * m * s0)
        terms = (s0, first, -b * s0, second, -b * (s0 + first), b * b * s0)
        for part, term in zip(parts, terms, strict=True):
            part[at] -= term


def likelihood_of(strata: Strata, which: Ints) -> Likelihood:
    """Return the likelihood of some strata, all with interval lives, in rising order."""
    wanted = np.zeros(strata.n_strata, np.bool_)
    wanted[which] = True
    rows = Exposure(strata.exposure, strata.exposure_weight, strata.exposure_runs)
    low = np.maximum(strata.interval_low, LOG_OF_ZERO)
    spans = Spans(low, strata.interval_high, strata.interval_weight, strata.interval_runs)
    return Likelihood(
        which, strata.n_failures[which], strata.sum_log_failure[which], strata.centre[which],
        rows.only(wanted[rows.runs.keys]), spans.only(wanted[spans.runs.keys]),
    )


def _span_sums(spans: Spans, b: Floats, m: Floats) -> Floats:
    """Return sums over interval lives, shape (6, n), up to powers of the shape.

    With D the hazard accumulated between the ends, the log-likelihood is ``log(1 - exp(-D))``.
    The rows are its value, slope in log shape, minus slope in log life over the shape, and the
    three second derivatives over 1, shape and shape squared.
    """
    runs = spans.runs
    pieces = np.empty((6, runs.piece_starts.size))
    sizes = np.diff(np.append(runs.piece_starts, runs.n_rows))
    n_pieces = np.diff(np.append(runs.first_piece, runs.piece_starts.size))
    piece_b, piece_m = np.repeat(b, n_pieces), np.repeat(m, n_pieces)
    is_plain = bool(np.all(spans.weight == 1.0))
    for rows, where, starts in runs.blocks():
        shape = np.repeat(piece_b[where], sizes[where])
        life = np.repeat(piece_m[where], sizes[where])
        terms = _span_terms(shape * (spans.low[rows] - life), shape * (spans.high[rows] - life))
        for i, term in enumerate(terms):
            if not is_plain:
                term = term * spans.weight[rows]
            pieces[i, where] = np.add.reduceat(term, starts)
    return runs.join(pieces)


def _span_terms(z_low: Floats, z_high: Floats) -> tuple[Floats, ...]:
    """Return the six terms of each interval life; ``z`` are logs of the accumulated hazards."""
    np.minimum(z_low, GREATEST_EXPONENT, out=z_low)
    np.minimum(z_high, GREATEST_EXPONENT, out=z_high)
    h_low, h_high = np.exp(z_low), np.exp(z_high)
    d = np.maximum(h_high - h_low, 1e-300)
    h_low *= z_low
    h_high *= z_high
    d_u = h_high - h_low
    d_uu = d_u + z_high * h_high - z_low * h_low
    gone = np.expm1(-d)
    q = (1.0 + gone) / -gone  # 1 / expm1(d), without overflow
    k, rho = q * d, q * d_u
    return (
        np.log(-gone), rho, k, q * d_uu - rho * d_u - rho * rho,
        rho * d + rho * k - k - rho, k - k * d - k * k,
    )
