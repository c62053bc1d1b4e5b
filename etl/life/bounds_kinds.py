"""Bounds of every figure of a fit by one of three methods, under the names users choose from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from etl.life.bootstrap import bootstrap_bounds
from etl.life.bounds import Bounds, LifeBounds, likelihood_ratio_bounds, normal_bounds, stacked
from etl.life.bounds_survival import (
    likelihood_ratio_mean,
    likelihood_ratio_survival,
    normal_mean,
    normal_survival,
)
from etl.life.fit import StrataFit
from etl.life.lives_table import LivesTable
from etl.life.strata import Strata

BOUNDS_KINDS = {
    "likelihood": "likelihood-ratio bounds",
    "normal": "normal-approximation bounds",
    "bootstrap": "bootstrap bounds",
}
"""What bounds may be asked for, and their names in sentences."""
SEED = 20_260_101


@dataclass(frozen=True)
class FigureBounds:
    """Bounds of each stratum: lives, mean life, and survival to ages."""

    lives: LifeBounds
    mean: Bounds
    survival: Bounds


def bounds_of(
    kind: str, table: LivesTable, strata: Strata, fit: StrataFit, confidence: float,
    ages: Sequence[float] = (), wants_mean: bool = True,
) -> FigureBounds:
    """Bound the figures of every group of a table of lives.

    Parameters
    ----------
    kind : str
        A key of `BOUNDS_KINDS`.
    table : LivesTable
    strata : Strata
        The same lives, laid out.
    fit : StrataFit
    confidence : float
        Content of the two-sided bounds, in 0..1.
    ages : sequence of float
        >= 0; survival to them is bounded.
    wants_mean : bool
        False saves the time of bounding the mean life, which is then NaN.

    Returns
    -------
    FigureBounds
        B10 is the only B-life.
    """
    if kind == "bootstrap":
        return _by_bootstrap(table, fit, confidence, ages)
    if kind == "normal":
        return FigureBounds(normal_bounds(fit, confidence), normal_mean(fit, confidence),
                            normal_survival(fit, ages, confidence))
    n = strata.n_strata
    nothing = Bounds(np.full(n, np.nan), np.full(n, np.nan))
    return FigureBounds(
        likelihood_ratio_bounds(strata, fit, confidence),
        likelihood_ratio_mean(strata, fit, confidence) if wants_mean else nothing,
        likelihood_ratio_survival(strata, fit, ages, confidence) if ages else stacked([], n))


def _by_bootstrap(
    table: LivesTable, fit: StrataFit, confidence: float, ages: Sequence[float]
) -> FigureBounds:
    """Simulate group by group: the bounds of one do not change with the others."""
    parts = []
    for i in range(fit.shape.size):
        mine = table.stratum == i
        parts.append(bootstrap_bounds(
            table.entry[mine], table.low[mine], table.high[mine], table.count[mine], SEED,
            confidence, ages=ages))

    def joined(bounds: list[Bounds]) -> Bounds:
        if not bounds:
            return stacked([], 0)
        return Bounds(np.concatenate([part.lower for part in bounds]),
                      np.concatenate([part.upper for part in bounds]))

    return FigureBounds(
        LifeBounds(joined([part.lives.shape for part in parts]),
                   joined([part.lives.characteristic_life for part in parts]),
                   joined([part.lives.b_life for part in parts])),
        joined([part.mean for part in parts]), joined([part.survival for part in parts]))
