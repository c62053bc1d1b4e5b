"""Fits of groups of lives as plain numbers and sentences."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from etl.counted import counted
from etl.life.bounds import Bounds
from etl.life.bounds_kinds import BOUNDS_KINDS, FigureBounds, bounds_of
from etl.life.fit import StrataFit, fit_arranged
from etl.life.fit_examination import examinations, free_bounds
from etl.life.fixed_shape import life_at_shape
from etl.life.lives_table import LivesTable
from etl.life.status import Status, has_estimate
from etl.life.strata import Strata, arrange_strata
from etl.life.weibull import b_life, mean_life, survival

Floats = NDArray[np.float64]

ASSUMED_SHAPES = (1.0, 2.0, 3.0)
"""Shapes for which a life is stated where none can be estimated: constant rate to clear wear."""


def group_fits(
    table: LivesTable, confidence: float, bounds: str = "likelihood",
    survival_at: Sequence[float] = (), is_full: bool = False,
) -> list[dict[str, Any]]:
    """Fit every group of a table of lives.

    Parameters
    ----------
    table : LivesTable
    confidence : float
        Content of the two-sided bounds.
    bounds : str
        A key of `etl.life.bounds_kinds.BOUNDS_KINDS`.
    survival_at : sequence of float
        Ages, >= 0, to which survival is stated.
    is_full : bool
        State the mean life too, and how far the law itself can be trusted.

    Returns
    -------
    list of dict
        One a group, ready for JSON: figures that do not exist are None.
    """
    strata = arrange_strata(table.stratum, table.entry, table.low, table.high, table.count,
                            len(table.groups))
    fit = fit_arranged(strata)
    b10 = b_life(0.10, fit.shape, fit.characteristic_life)
    mean = mean_life(fit.shape, fit.characteristic_life)
    free = free_bounds(table, survival_at) if survival_at else []
    examined = examinations(table, fit) if is_full else []
    found = bounds_of(bounds, table, strata, fit, confidence, survival_at, is_full)
    assumed = [life_at_shape(strata, shape, confidence) for shape in ASSUMED_SHAPES]
    lived = np.bincount(table.stratum, table.count * np.maximum(table.low - table.entry, 0.0),
                        len(table.groups))
    unused = [f"Column '{name}' is not used." for name in table.unused_columns]
    groups = []
    for i, (name, status) in enumerate(zip(table.groups, fit.status, strict=True)):
        lives = [(life.estimate[i], life.lower[i], life.upper[i]) for life in assumed]
        notes = _notes(status, strata, fit, i, lives, confidence, lived[i]) + unused
        if bounds == "bootstrap" and has_estimate(status) and math.isnan(
                found.lives.shape.lower[i]):
            notes.append("No bounds: most groups simulated like this one have no estimate.")
        groups.append({
            "group": name,
            "failures": _count(fit.n_failures[i]),
            "suspensions": _count(fit.n_suspensions[i] + fit.n_unobserved[i]),
            "intervals": _count(fit.n_intervals[i]),
            "status": status.value,
            **_figures(fit, found, b10, i),
            "method": (f"maximum likelihood, {BOUNDS_KINDS[bounds]}" if has_estimate(status)
                       else "no estimate"),
            "notes": notes,
            **(_survival(fit, found, survival_at, free[i], i) if survival_at else {}),
            **({"mean_life": _estimate(mean, found.mean, i), **examined[i]} if is_full else {}),
        })
    return groups


def _figures(fit: StrataFit, bounds: FigureBounds, b10: Floats, i: int) -> dict[str, Any]:
    """Return estimates and bounds of one group."""
    lives = bounds.lives
    return {
        "shape": _estimate(fit.shape, lives.shape, i),
        "characteristic_life": _estimate(fit.characteristic_life, lives.characteristic_life, i),
        "b10": _estimate(b10, Bounds(lives.b_life.lower[:, 0], lives.b_life.upper[:, 0]), i),
        "log_likelihood": _number(fit.log_likelihood[i]),
    }


def _survival(
    fit: StrataFit, bounds: FigureBounds, ages: Sequence[float],
    free: list[dict[str, float | None]], i: int,
) -> dict[str, list[dict[str, float | None]]]:
    """Return survival of one group to each age, by the Weibull and without a law."""
    return {"survival": [{
        "age": float(age), "estimate": _number(value), "low": _number(lower),
        "high": _number(upper), **without,
    } for without, age, value, lower, upper in zip(
        free, ages, survival(np.asarray(ages), fit.shape[i], fit.characteristic_life[i]),
        bounds.survival.lower[i], bounds.survival.upper[i], strict=True)]}


def _estimate(values: Floats, bounds: Bounds, i: int) -> dict[str, float | None]:
    """Return one figure with its bounds; None where there is no number."""
    low = _number(bounds.lower[i])
    return {"estimate": _number(values[i]), "low": low if low != 0.0 else None,
            "high": _number(bounds.upper[i])}


def _number(value: float) -> float | None:
    """Return a finite number, or None."""
    return float(value) if math.isfinite(value) else None


def _count(value: float) -> int | float:
    """Return a count, whole where it is whole."""
    return int(value) if float(value).is_integer() else float(value)


def _notes(
    status: Status, strata: Strata, fit: StrataFit, i: int,
    lives: list[tuple[float, float, float]], confidence: float, lived: float,
) -> list[str]:
    """Return what a reader must know about the figures of one group."""
    notes = []
    if status is Status.OK or status is Status.FEW_FAILURES:
        if status is Status.FEW_FAILURES:
            notes.append("Fewer than five failures: the bounds are wide, and rightly so.")
        if fit.shape[i] < 1.0:
            notes.append("Shape below 1: the failure rate falls with age, as early failures do.")
    elif status is Status.NO_FAILURES:
        notes.append(f"No failures in {lived:.7g} lived in all: nothing can be estimated, only "
                     "bounded from below.")
        notes += [_least_life(shape, life, confidence)
                  for shape, life in zip(ASSUMED_SHAPES, lives, strict=True)]
    elif status is Status.SHAPE_NOT_ESTIMABLE:
        if not fit.n_intervals[i]:
            n_failures = counted(fit.n_failures[i], "failure")
            notes.append(f"{n_failures} in {lived:.7g} lived in all.")
        notes.append("No life outlasts the failures, so the shape has no greatest likelihood.")
        notes += [_life_given(shape, life, confidence)
                  for shape, life in zip(ASSUMED_SHAPES, lives, strict=True)]
    elif status is Status.NO_FINITE_ESTIMATE:
        notes.append("The likelihood rises towards shape 0 without a peak, as it can where every "
                     "life entered late and failures become rarer with age.")
    else:
        notes.append("No lives that can be used.")
    if strata.n_unobserved[i] > 0.0:
        notes.append(f"{_count(strata.n_unobserved[i])} suspended for no time observed: counted, "
                     "not fitted.")
    return notes


def _least_life(shape: float, life: tuple[float, float, float], confidence: float) -> str:
    """Return the zero-failure bound in words."""
    return (f"If the shape is {shape:g}, the characteristic life is at least {life[1]:.5g}, with "
            f"{50.0 + 50.0 * confidence:g} % confidence (zero-failure bound).")


def _life_given(shape: float, life: tuple[float, float, float], confidence: float) -> str:
    """Return the life at an assumed shape in words."""
    if not math.isfinite(life[0]):
        return f"If the shape is {shape:g}, the characteristic life is at most {life[2]:.5g}."
    return (f"If the shape is {shape:g}, the characteristic life is {life[0]:.5g} "
            f"({life[1]:.5g} to {life[2]:.5g}, {100.0 * confidence:g} % bounds).")
