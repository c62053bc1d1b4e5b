"""The log-likelihood as a surface over shape and life, cheap to read at many points.

Logs of ages are scaled by half the fitted shape of their stratum, so that every stratum's peak
lies at shape 2 and the ladder of the exposure curve reaches from a sixteenth of it to sixteen
times. At a given shape the likelihood is concave in ``x = -shape * log life``, interval lives
included, so its peak and the two points at a given level below it are found without fail.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.life.curves import LOG_SHAPE_NODES, Curves, evaluate, power_sums
from etl.life.likelihood import GREATEST_EXPONENT, LOG_OF_ZERO, Spans
from etl.life.segments import segments
from etl.life.strata import Strata

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

PEAK_SHAPE = 2.0
MAX_PASSES = 200
SETTLED = 1e-6
"""A Newton step below this leaves about its square."""


@dataclass(frozen=True)
class Surface:
    """Log-likelihoods of some strata, up to a constant each.

    Attributes
    ----------
    strata : ndarray of int, shape (n,)
        Their numbers in the layout they came from.
    scale, centre : ndarray, shape (n,)
        A scaled log age is ``scale * (log age - centre)``.
    n_failures, n_events, sum_log_failure : ndarray, shape (n,)
        Exact failures, failures of both kinds, sum of scaled log ages at exact failures.
    curves : Curves
    spans : Spans
        Interval lives, ``spans.runs.keys`` counting within these strata.
    """

    strata: Ints
    scale: Floats
    centre: Floats
    n_failures: Floats
    n_events: Floats
    sum_log_failure: Floats
    curves: Curves
    spans: Spans


@dataclass(frozen=True)
class Point:
    """The surface at one point a stratum: value and slopes in log shape and in x."""

    x: Floats
    value: Floats
    by_log_shape: Floats
    by_x: Floats


def surface_of(strata: Strata, which: Ints, shape: Floats) -> Surface:
    """Build the surface of some strata.

    Parameters
    ----------
    strata : Strata
    which : ndarray of int, shape (n,)
        Rising; each with at least one failure or interval life.
    shape : ndarray, shape (n,)
        Shape that is to lie at 2 of the scaled ages, such as the fitted one.

    Returns
    -------
    Surface
    """
    place = np.full(strata.n_strata, -1)
    place[which] = np.arange(which.size)
    scale = shape / PEAK_SHAPE
    rows, runs = strata.exposure_runs.rows_of(place[strata.exposure_runs.keys] >= 0)
    key = place[np.repeat(runs.keys, runs.sizes)]
    weight = np.ones(rows.size) if strata.exposure_weight is None else strata.exposure_weight[rows]
    sums = np.zeros((3, which.size, LOG_SHAPE_NODES.size))
    sums[:, place[runs.keys]] = power_sums(strata.exposure[rows] * scale[key], weight,
                                           segments(key))
    curves = Curves(LOG_SHAPE_NODES, sums[0], sums[1], sums[2], np.zeros(which.size))
    rows, runs = strata.interval_runs.rows_of(place[strata.interval_runs.keys] >= 0)
    key = place[np.repeat(runs.keys, runs.sizes)]
    low = np.maximum(strata.interval_low[rows] * scale[key], LOG_OF_ZERO)
    spans = Spans(low, strata.interval_high[rows] * scale[key], strata.interval_weight[rows],
                  segments(key))
    return Surface(
        which, scale, strata.centre[which], strata.n_failures[which],
        strata.n_failures[which] + strata.n_intervals[which],
        strata.sum_log_failure[which] * scale, curves, spans,
    )


class Slice:
    """Part of a surface at one log shape a stratum: a concave curve in x."""

    def __init__(self, surface: Surface, k: Ints, u: Floats) -> None:
        """Cut the surface of strata ``k``, rising, at log shapes ``u``."""
        self.r, self.total = surface.n_failures[k], surface.sum_log_failure[k]
        self.events = surface.n_events[k]
        self.u, self.b = u, np.exp(u)
        self.log_s0, self.slope, _ = evaluate(surface.curves, k, u)
        wanted = np.zeros(surface.strata.size, np.bool_)
        wanted[k] = True
        place = np.cumsum(wanted) - 1
        self.spans = surface.spans.only(wanted[surface.spans.runs.keys])
        self.runs = self.spans.runs
        self.at = place[self.runs.keys]
        if self.at.size:
            b = np.repeat(self.b[self.at], self.runs.sizes)
            self.z_low = np.maximum(b * self.spans.low, LOG_OF_ZERO)
            self.z_high = b * self.spans.high
            self.hazard_low = np.exp(np.minimum(self.z_low, GREATEST_EXPONENT))
            self.hazard = np.exp(np.minimum(self.z_high, GREATEST_EXPONENT)) - self.hazard_low

    def read(self, x: Floats) -> tuple[Floats, Floats, Floats]:
        """Return value, slope and curvature in x."""
        h = np.exp(np.minimum(x + self.log_s0, GREATEST_EXPONENT))
        value = self.r * (self.u + x) + self.b * self.total - h
        slope, bend = self.r - h, -h
        if self.at.size:
            d, gone, k = self._span_state(x)
            bend[self.at] += self.runs.sum(self.spans.weight * (k - k * d - k * k))
            slope[self.at] += self.runs.sum(self.spans.weight * k)
            value[self.at] += self.runs.sum(self.spans.weight * np.log(-gone))
        return value, slope, bend

    def point(self, x: Floats) -> Point:
        """Return the surface at x."""
        value, slope, _ = self.read(x)
        h = np.exp(np.minimum(x + self.log_s0, GREATEST_EXPONENT))
        # x holds -shape * log life: at fixed life it moves with the shape
        by_u = self.r * (1.0 + x) + self.b * self.total - h * (self.slope + x)
        if self.at.size:
            d, _, k = self._span_state(x)
            z = np.repeat(x[self.at], self.runs.sizes)
            rate = k / d * np.exp(z)
            high = self.hazard + self.hazard_low
            moved = (z + self.z_high) * high - (z + self.z_low) * self.hazard_low
            by_u[self.at] += self.runs.sum(self.spans.weight * rate * moved)
        return Point(x, value, by_u, slope)

    def _span_state(self, x: Floats) -> tuple[Floats, Floats, Floats]:
        """Return hazard between the ends, expm1 of minus it, and its share ``d / expm1(d)``."""
        factor = np.exp(np.clip(x[self.at], -GREATEST_EXPONENT, GREATEST_EXPONENT))
        most = 1e300 / np.maximum(self.hazard, 1.0)  # so that the product is a number
        d = np.maximum(self.hazard * np.minimum(np.repeat(factor, self.runs.sizes), most), 1e-300)
        gone = np.expm1(-d)
        return d, gone, (1.0 + gone) / -gone * d

    def peak(self) -> Floats:
        """Return the x of the greatest value."""
        x = np.log(self.events) - np.where(np.isfinite(self.log_s0), self.log_s0, 0.0)
        if not self.at.size:
            return x
        for _ in range(MAX_PASSES):
            _, slope, bend = self.read(x)
            step = np.clip(-slope / np.minimum(bend, -1e-300), -1.0, 1.0)
            x = x + step
            if float(np.max(np.abs(step), initial=0.0)) < SETTLED:
                break
        return x

    def crossing(self, peak: Floats, level: Floats, side: float) -> Floats:
        """Return the x at which the value has fallen to a level, above or below its peak.

        Where the peak itself is below the level, the peak is returned.
        """
        value, _, bend = self.read(peak)
        excess = np.maximum(value - level, 0.0)
        is_over = excess > 0.0
        x = peak + side * np.sqrt(2.0 * excess / np.maximum(-bend, 1e-300)).clip(0.0, 5.0)
        for _ in range(MAX_PASSES):
            value, slope, _ = self.read(x)
            uphill = np.where(np.abs(slope) > 1e-300, slope, -side * 1e-300)
            step = np.where(is_over, np.clip((level - value) / uphill, -50.0, 50.0), 0.0)
            x = x + step
            if float(np.max(np.abs(step) / (1.0 + np.abs(x)), initial=0.0)) < SETTLED:
                break
        return np.where(is_over, x, peak)
