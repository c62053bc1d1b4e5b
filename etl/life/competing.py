"""Mechanisms that compete for the same hose: all of them together, and the share of each."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from etl.errors import FitError

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

AT_CHARACTERISTIC_LIFE = float(-np.expm1(-1.0))
"""Fraction failed at the characteristic life, 0.632."""

GREATEST_EXPONENT = 300.0
NEWTON_STEPS = 60
SETTLED = 1e-13

N_NODES = 48
START_POWER = 3.0
"""Ages near 0 are integrated over ``age = end * v ** 3``: smooth in v for shapes above 0.3."""


def all_cause_b_life(
    log_shape: ArrayLike, log_life: ArrayLike, cell: ArrayLike, n_cells: int, fraction: float
) -> Floats:
    """Return the age by which a fraction has failed by any mechanism.

    Parameters
    ----------
    log_shape, log_life : array_like, shape (n_draws, n_strata)
    cell : array_like of int, shape (n_strata,)
        Cell of each stratum, rising.
    n_cells : int
    fraction : float
        Fraction failed, between 0 and 1: 0.10 for B10, `AT_CHARACTERISTIC_LIFE` for the age at
        which the cumulative hazard reaches 1.

    Returns
    -------
    ndarray, shape (n_draws, n_cells)
        Infinite in a cell without strata.

    Raises
    ------
    FitError
        The fraction is not between 0 and 1, or the cells are not rising numbers of cells.

    Notes
    -----
    Newton's method on the log of the summed hazards over log age, which is convex and rising,
    from the least of the ages that each mechanism alone would give: that start is never too
    low, so no step overshoots.

    Examples
    --------
    >>> import numpy as np
    >>> alone = all_cause_b_life([[0.0]], [[0.0]], [0], 1, 0.10)
    >>> two = all_cause_b_life([[0.0, 0.0]], [[0.0, 0.0]], [0, 0], 1, 0.10)
    >>> round(float(alone[0, 0] / two[0, 0]), 9)
    2.0
    """
    if not 0.0 < fraction < 1.0:
        raise FitError(
            f"all_cause_b_life: fraction must lie between 0 and 1, got {fraction}. "
            "Give 0.10 for B10."
        )
    u, m, runs = _checked(log_shape, log_life, cell, n_cells)
    life = np.full((u.shape[0], n_cells), np.inf)
    if not runs.size:
        return life
    log_target = np.log(-np.log1p(-fraction))
    shape = np.exp(u)
    sizes = np.diff(np.append(runs, u.shape[1]))
    x = np.minimum.reduceat(m + log_target / shape, runs, axis=1)
    for _ in range(NEWTON_STEPS):
        hazard = np.exp(shape * (np.repeat(x, sizes, axis=1) - m))
        total = np.add.reduceat(hazard, runs, axis=1)
        slope = np.add.reduceat(shape * hazard, runs, axis=1) / total
        step = (np.log(total) - log_target) / slope
        x -= step
        if float(np.max(np.abs(step))) < SETTLED * (1.0 + float(np.max(np.abs(x)))):
            break
    with np.errstate(over="ignore"):  # a draw of a kind that hardly ever fails: beyond any number
        life[:, _present(cell)] = np.exp(x)
    return life


def cumulative_incidence(log_shape: ArrayLike, log_life: ArrayLike, age: ArrayLike) -> Floats:
    """Return the probability of having failed by each mechanism of one cell by an age.

    Parameters
    ----------
    log_shape, log_life : array_like, shape (n_draws, n_mechanisms)
    age : array_like, shape (n_ages,)
        >= 0.

    Returns
    -------
    ndarray, shape (n_draws, n_ages, n_mechanisms)
        With survival, adds up to 1.

    Notes
    -----
    The integral of hazard times survival to the age, by Gauss-Legendre quadrature on two panels
    that meet where the summed hazard is 1. The chance of having failed at all is known without
    it, so that the mechanisms share that: what the quadrature misses in draws of very unlike
    shapes is missed alike by all. Never ``1 - exp(-H)`` of one mechanism, which would
    be the probability in a world without the others.
    """
    u, m = np.asarray(log_shape, np.float64), np.asarray(log_life, np.float64)
    ends = np.asarray(age, np.float64)
    cell = np.zeros(u.shape[1], np.intp)
    middle = all_cause_b_life(u, m, cell, 1, AT_CHARACTERISTIC_LIFE)  # (n_draws, 1)
    spent = all_cause_b_life(u, m, cell, 1, float(-np.expm1(-36.0)))
    last = np.minimum(ends, spent)
    turn = np.minimum(last, middle)
    v, w = np.polynomial.legendre.leggauss(N_NODES)
    v, w = 0.5 * (v + 1.0), 0.5 * w
    early = turn[:, :, None] * v**START_POWER
    early_weight = turn[:, :, None] * (w * START_POWER * v ** (START_POWER - 1.0))
    width = (last - turn)[:, :, None]
    late, late_weight = turn[:, :, None] + width * v, width * w
    parts = _integral(u, m, early, early_weight) + _integral(u, m, late, late_weight)
    summed = parts.sum(axis=-1)
    share = np.divide(-np.expm1(-_total_hazard(u, m, ends[None, :])), summed,
                      out=np.zeros_like(summed), where=summed > 0.0)
    return np.asarray(parts * share[..., None])


def cause_probability(log_shape: ArrayLike, log_life: ArrayLike, age: ArrayLike) -> Floats:
    """Return the probability of each mechanism for a failure whose mechanism is unknown.

    Parameters
    ----------
    log_shape, log_life : array_like, shape (n_draws, n_mechanisms)
        The mechanisms that may have caused it; leave out those ruled out.
    age : array_like, shape (n_failures,)
        Age at failure, > 0.

    Returns
    -------
    ndarray, shape (n_draws, n_failures, n_mechanisms)
        The share of each mechanism in the hazard at that age; adds up to 1.

    Raises
    ------
    FitError
        An age is not positive.
    """
    u, m = np.asarray(log_shape, np.float64), np.asarray(log_life, np.float64)
    ages = np.asarray(age, np.float64)
    wrong = int(np.count_nonzero(~(ages > 0.0)))
    if wrong:
        raise FitError(
            f"cause_probability: age must be > 0 ({wrong} of {ages.size} are not). "
            "Turn a failure at age 0 into an interval that opens there."
        )
    x = np.log(ages)[:, None]
    log_hazard = u[:, None, :] + np.exp(u)[:, None, :] * (x - m[:, None, :])
    share = np.exp(log_hazard - log_hazard.max(axis=-1, keepdims=True))
    return np.asarray(share / share.sum(axis=-1, keepdims=True))


def _integral(u: Floats, m: Floats, age: Floats, weight: Floats) -> Floats:
    """Return the weighted sum of hazard times survival, one value a mechanism."""
    shape = np.exp(u)
    x = np.log(np.maximum(age, 1e-300))
    alive = weight * np.exp(-_total_hazard(u, m, age))
    parts = np.empty((*age.shape[:2], u.shape[1]))
    for mechanism in range(u.shape[1]):
        b, life = (part[:, mechanism, None, None] for part in (shape, m))
        rate = b * np.exp(np.clip(b * (x - life) - x, -600.0, GREATEST_EXPONENT))
        parts[:, :, mechanism] = np.sum(alive * rate, axis=-1)
    return parts


def _total_hazard(u: Floats, m: Floats, age: Floats) -> Floats:
    """Return the hazards of all mechanisms added up from new to an age, one row a draw."""
    x = np.log(np.maximum(age, 1e-300))
    more = (slice(None), *(None,) * (age.ndim - 1))
    total = np.zeros(np.broadcast_shapes(age.shape, (u.shape[0], *(1,) * (age.ndim - 1))))
    for mechanism in range(u.shape[1]):
        b, life = np.exp(u[:, mechanism])[more], m[:, mechanism][more]
        total += np.exp(np.minimum(b * (x - life), GREATEST_EXPONENT))
    return total


def _checked(
    log_shape: ArrayLike, log_life: ArrayLike, cell: ArrayLike, n_cells: int
) -> tuple[Floats, Floats, Ints]:
    """Return the two tables and the first stratum of each cell that has any."""
    u, m = np.asarray(log_shape, np.float64), np.asarray(log_life, np.float64)
    key = np.asarray(cell, np.intp)
    if u.ndim != 2 or u.shape != m.shape or key.shape != u.shape[1:]:
        raise FitError(
            f"competing mechanisms: log_shape and log_life must be (n_draws, n_strata) with one "
            f"cell a stratum, found {u.shape}, {m.shape} and {key.shape}. Give equal shapes."
        )
    if key.size and (key[0] < 0 or key[-1] >= n_cells or bool(np.any(np.diff(key) < 0))):
        raise FitError(
            f"competing mechanisms: cells must rise from 0 to at most {n_cells - 1}, found "
            f"{int(key.min())} to {int(key.max())}. Sort the strata by cell."
        )
    is_first = np.ones(key.size, np.bool_)
    np.not_equal(key[1:], key[:-1], out=is_first[1:])
    return u, m, np.flatnonzero(is_first)


def _present(cell: ArrayLike) -> Ints:
    """Return the cells that have strata, rising."""
    return np.unique(np.asarray(cell, np.intp))
