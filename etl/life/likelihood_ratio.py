"""Do two groups share one Weibull law, or at least its shape? Likelihood-ratio tests by pairs.

Everything is read from exposure curves, so a test of a pair never touches its lives again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from etl.errors import FitError
from etl.life.curves import LOG_SHAPE_NODES, LOG_SHAPE_STEP, Curves, evaluate

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Profile = Callable[[Ints, Floats], tuple[Floats, Floats, Floats]]
"""Members and log shapes in; profile log-likelihood, slope and curvature out."""

STEPS = 60
SETTLED = 1e-10


@dataclass(frozen=True)
class Outcome:
    """Twice the gain in log-likelihood and its p-value, shape (n_pairs,); NaN where undefined."""

    statistic: Floats
    p_value: Floats


@dataclass(frozen=True)
class LawTests:
    """Tests of each pair.

    Attributes
    ----------
    law : Outcome
        One shape and one life for both, against a law of its own for each: two degrees of
        freedom.
    life : Outcome
        One shape and one life, against one shape and two lives: one degree of freedom.
    shape : Outcome
        One shape and two lives, against a law of its own for each: one degree of freedom.
    common_shape : ndarray, shape (n_pairs,)
        Estimate of the shape that both share; NaN where there is none.
    """

    law: Outcome
    life: Outcome
    shape: Outcome
    common_shape: Floats


@dataclass(frozen=True)
class Groups:
    """What the likelihood of each group needs.

    Attributes
    ----------
    curves : Curves
        Exposure; the lives of a failed hose end at its failure.
    cell : ndarray of int, shape (n_groups,)
        Curve of each group; mechanisms of one cell share it.
    n_failures, sum_log_age : ndarray, shape (n_groups,)
    """

    curves: Curves
    cell: Ints
    n_failures: Floats
    sum_log_age: Floats


def law_tests(groups: Groups, first: ArrayLike, second: ArrayLike) -> LawTests:
    """Test each pair of groups for one common Weibull law and for a common shape.

    Parameters
    ----------
    groups : Groups
    first, second : array_like of int, shape (n_pairs,)

    Returns
    -------
    LawTests
        A test is undefined where one of its two likelihoods has no greatest value at a shape
        between 0.125 and 32: without a failure in either group, without one in each for the
        tests that give each its own shape, or where a steeper shape always fits better.

    Raises
    ------
    FitError
        The columns of the groups differ in length.

    Notes
    -----
    Given the shape, the best characteristic life follows, so each likelihood is a curve in log
    shape. Its highest node of the ladder is found first, then the peak beside it by Newton's
    method kept within a bracket. The chi-square law of the statistics is a limit for many
    failures; with fewer than about five in a group their p-values are rough.
    """
    one, two = (np.atleast_1d(np.asarray(side, np.intp)) for side in (first, second))
    _check(groups)
    pairs = np.arange(one.size)

    def own(k: Ints, u: Floats) -> tuple[Floats, Floats, Floats]:
        return _profile(groups, k, u)

    def apart(k: Ints, u: Floats) -> tuple[Floats, Floats, Floats]:
        sides = zip(_profile(groups, one[k], u), _profile(groups, two[k], u), strict=True)
        value, slope, bend = (a + b for a, b in sides)
        return value, slope, bend

    def together(k: Ints, u: Floats) -> tuple[Floats, Floats, Floats]:
        return _joint_profile(groups, one[k], two[k], u)

    used, place = np.unique(np.concatenate([one, two]), return_inverse=True)
    tops = _peak(own, used, groups.n_failures[used] > 0.0)[0][place]
    both_failed = (groups.n_failures[one] > 0.0) & (groups.n_failures[two] > 0.0)
    any_failed = (groups.n_failures[one] > 0.0) | (groups.n_failures[two] > 0.0)
    each = np.where(both_failed, tops[:one.size] + tops[one.size:], np.nan)
    same_shape, common = _peak(apart, pairs, any_failed)
    same_law, _ = _peak(together, pairs, any_failed)
    same_law = np.where(any_failed, same_law, np.nan)
    return LawTests(_test(each - same_law, 2), _test(same_shape - same_law, 1),
                    _test(each - same_shape, 1), np.exp(common))


def _test(gain: Floats, freedom: int) -> Outcome:
    """Return statistic and p-value; rounding can make a gain of nothing slightly negative."""
    statistic = np.where(np.isnan(gain), np.nan, 2.0 * np.maximum(gain, 0.0))
    return Outcome(statistic, np.asarray(stats.chi2.sf(statistic, freedom)))


def _profile(groups: Groups, k: Ints, u: Floats) -> tuple[Floats, Floats, Floats]:
    """Return the log-likelihood of groups at their best life, with two derivatives in log shape."""
    cell, r = groups.cell[k], groups.n_failures[k]
    value, slope, bend = evaluate(groups.curves, cell, u)
    value = np.where(r > 0.0, value, 0.0)
    sum_y = groups.sum_log_age[k] - r * groups.curves.centre[cell]
    return _at_best_life(r, sum_y, groups.sum_log_age[k], u, (value, slope, bend))


def _joint_profile(
    groups: Groups, one: Ints, two: Ints, u: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return the same for two groups with one life in common."""
    cells = [groups.cell[side] for side in (one, two)]
    centre = np.maximum(*(groups.curves.centre[cell] for cell in cells))
    b = np.exp(u)
    sides = []
    for cell in cells:
        value, slope, bend = evaluate(groups.curves, cell, u)
        shift = b * (groups.curves.centre[cell] - centre)
        sides.append((value + shift, slope + shift, bend + shift))
    (v1, d1, c1), (v2, d2, c2) = sides
    total = np.logaddexp(v1, v2)
    w1, w2 = np.exp(v1 - total), np.exp(v2 - total)
    slope = w1 * d1 + w2 * d2
    bend = w1 * (c1 + d1**2) + w2 * (c2 + d2**2) - slope**2
    r = groups.n_failures[one] + groups.n_failures[two]
    sum_log = groups.sum_log_age[one] + groups.sum_log_age[two]
    return _at_best_life(r, sum_log - r * centre, sum_log, u, (total, slope, bend))


def _at_best_life(
    r: Floats, sum_y: Floats, sum_log: Floats, u: Floats, exposure: tuple[Floats, Floats, Floats]
) -> tuple[Floats, Floats, Floats]:
    """Return value, slope and curvature in log shape of the profile log-likelihood."""
    log_s0, rise, bend = exposure
    grown = np.exp(u) * sum_y
    value = r * (u - log_s0 + np.log(np.maximum(r, 1.0)) - 1.0) + grown - sum_log
    return value, r * (1.0 - rise) + grown, grown - r * bend


def _peak(profile: Profile, members: Ints, is_wanted: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Return the greatest value of each profile and its log shape.

    A group without failures has value 0 at any shape; a peak at the end of the ladder is none.
    """
    top, at = np.zeros(members.size), np.full(members.size, np.nan)
    which = np.flatnonzero(is_wanted)
    if not which.size:
        return top, at
    k = members[which]
    ladder = profile(np.repeat(k, LOG_SHAPE_NODES.size), np.tile(LOG_SHAPE_NODES, k.size))[0]
    best = ladder.reshape(k.size, -1).argmax(axis=1)
    inside = (best > 0) & (best < LOG_SHAPE_NODES.size - 1)
    u = LOG_SHAPE_NODES[best]
    low, high = u - LOG_SHAPE_STEP, u + LOG_SHAPE_STEP
    for _ in range(STEPS):
        _, slope, bend = profile(k, u)
        low, high = np.where(slope > 0.0, u, low), np.where(slope > 0.0, high, u)
        newton = u - slope / np.where(bend < 0.0, bend, -1.0)
        good = (bend < 0.0) & (newton >= low) & (newton <= high)
        step = np.where(good, newton, 0.5 * (low + high)) - u
        u = u + step
        if float(np.abs(step[inside]).max(initial=0.0)) < SETTLED:
            break
    top[which] = np.where(inside, profile(k, u)[0], np.nan)
    at[which] = np.where(inside, u, np.nan)
    return top, at


def _check(groups: Groups) -> None:
    """Raise `FitError` unless every group has its three numbers."""
    shapes = {np.shape(part) for part in (groups.cell, groups.n_failures, groups.sum_log_age)}
    if len(shapes) != 1:
        raise FitError(
            f"law_tests: cell, failures and summed log ages must have one value a group, found "
            f"shapes {sorted(shapes)}. Give columns of one length."
        )
