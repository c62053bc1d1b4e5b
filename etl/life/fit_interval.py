"""Maximum likelihood in both parameters, for strata with interval lives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.life.climb import climb
from etl.life.exposure import Exposure
from etl.life.fit_profile import LOG_CAP, LOG_FLOOR, SCAN_SHAPES, solve_profile
from etl.life.likelihood import LOG_OF_ZERO, Likelihood, likelihood_of
from etl.life.segments import segments
from etl.life.status import SHAPE_FLOOR
from etl.life.strata import Strata

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

START_RANGE = (float(np.log(0.2)), float(np.log(20.0)))
LONGEST_STEP = (0.7, 2.0)
"""In log shape and in log characteristic life."""
SCANNED_UP_TO = 20.0
"""Failures up to which lives that entered late are looked over for several peaks."""
SCAN_PASSES, SCAN_STEP, SCAN_SETTLED = 60, 3.0, 1e-3


@dataclass
class JointFit:
    """Solution in both parameters, one value a stratum that was asked for.

    Attributes
    ----------
    log_shape, log_life, log_likelihood : ndarray, shape (n,)
    score : ndarray, shape (n,)
        Slope of the log-likelihood in log shape at the end.
    information : ndarray, shape (n, 2, 2)
    is_low, is_high : ndarray of bool, shape (n,)
        The search left the range of shapes at its lower or upper end.
    """

    log_shape: Floats
    log_life: Floats
    log_likelihood: Floats
    score: Floats
    information: Floats
    is_low: Bools
    is_high: Bools


def solve_joint(strata: Strata, which: Ints) -> JointFit:
    """Find the greatest likelihood of strata with interval lives.

    Parameters
    ----------
    strata : Strata
    which : ndarray of int, shape (n,)
        Strata with at least one interval life, rising.

    Returns
    -------
    JointFit

    Notes
    -----
    Without late entries the log-likelihood is concave in (shape, -shape * log life), so the peak
    is the only one. With them a few failures may leave several, or a peak below an edge: there
    the climb begins at the best of a ladder of shapes.
    """
    whole = likelihood_of(strata, which)
    part = whole

    def evaluate(u: Floats, m: Floats, wanted: Ints) -> tuple[Floats, ...]:
        nonlocal part
        if wanted.size > part.strata.size:
            part = whole
        if wanted.size < part.strata.size:
            part = part.only(np.isin(part.strata, wanted, assume_unique=True))
        return part.sums(u, m)

    u, m = _start(strata, whole)
    events = strata.n_failures[which] + strata.n_intervals[which]
    few = strata.is_late[which] & (events <= SCANNED_UP_TO)
    if bool(few.any()):
        u[few], m[few] = _scan(strata, whole.only(few))
    u, m, _, is_peak = climb(evaluate, u, m, which, LONGEST_STEP, (LOG_FLOOR, LOG_CAP))
    value, by_u, _, by_uu, by_um, by_mm = whole.sums(u, m)
    information = -np.stack(
        [np.stack([by_uu, by_um], -1), np.stack([by_um, by_mm], -1)], -2)
    is_high = ~is_peak & (u > 0.0)
    return JointFit(u, m + whole.centre, value, by_u, information, ~is_peak & ~is_high, is_high)


def _scan(strata: Strata, part: Likelihood) -> tuple[Floats, Floats]:
    """Return the best shape of a ladder, and the best life at it.

    At a given shape the log-likelihood is concave in the log of the hazard, so that a climb in it
    alone finds its peak.
    """
    exposure, _, top, events = _middles(strata, part)
    best = np.full((3, part.strata.size), -np.inf)
    for shape in (SHAPE_FLOOR, *SCAN_SHAPES):
        u = np.full(part.strata.size, np.log(shape))
        s0 = np.maximum(exposure.sums(np.exp(u), 0)[0], 1e-300)
        m = (np.log(s0) - np.log(events)) / shape + top
        for _ in range(SCAN_PASSES):
            value, _, by_m, _, _, by_mm = part.sums(u, m)
            step = np.clip(by_m / np.maximum(-by_mm, 1e-300) * shape, -SCAN_STEP, SCAN_STEP)
            m = m + step / shape
            if float(np.max(np.abs(step))) < SCAN_SETTLED:
                break
        is_better = value > best[0]
        best[:, is_better] = np.stack([value, u, m])[:, is_better]
    return best[1], best[2]


def _start(strata: Strata, whole: Likelihood) -> tuple[Floats, Floats]:
    """Return a first guess: the fit with each interval life failed at its middle."""
    exposure, mean, top, events = _middles(strata, whole)
    solved = solve_profile(exposure, np.minimum(mean - top, -0.05), strata.is_late[whole.strata])
    u = np.clip(solved.log_shape, *START_RANGE)
    s0 = np.maximum(exposure.sums(np.exp(u), 0)[0], 1e-300)
    return u, (np.log(s0) - np.log(events)) / np.exp(u) + top


def _middles(strata: Strata, whole: Likelihood) -> tuple[Exposure, Floats, Floats, Floats]:
    """Return the lives with each interval life failed at its middle.

    Returns
    -------
    exposure : Exposure
        Less the greatest log age of each stratum.
    mean, top, events : ndarray, shape (n,)
        Mean log age at failure, the greatest log age, failures.
    """
    spans, which = whole.spans, whole.strata
    middle = np.log(0.5 * (np.exp(spans.low) + np.exp(spans.high)))
    span_key = np.repeat(spans.runs.keys, spans.runs.sizes)
    rows = whole.exposure
    row_key = np.repeat(rows.runs.keys, rows.runs.sizes)
    weight = np.ones(rows.y.size) if rows.weight is None else rows.weight
    aged = spans.low > LOG_OF_ZERO
    key = np.concatenate([row_key, span_key, span_key[aged]])
    y = np.concatenate([rows.y, middle, spans.low[aged]])
    weight = np.concatenate([weight, spans.weight, -spans.weight[aged]])
    order = np.argsort(key, kind="stable")
    runs = segments(key[order])
    top = runs.max(y[order])
    exposure = Exposure(y[order] - runs.spread(top), weight[order], runs)
    events = whole.n_failures + strata.n_intervals[which]
    mean = (whole.sum_log_failure + spans.runs.sum(spans.weight * middle)) / events
    return exposure, mean, top, events
