"""The fleet's cells from its atoms, and what is estimated of them once: draws, fits, removals."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.lives import ANY, UNKNOWN, Lives, sums
from etl.build.removals import Removal, laws_of, removal_groups
from etl.build.statistics import number_or_gap, pooled_summary, pooling_data
from etl.build.strata import Failures, Strata, failures_of, strata_of
from etl.life.competing import AT_CHARACTERISTIC_LIFE, all_cause_b_life
from etl.life.curve_fit import fit_curves
from etl.life.curves import Curves, merge
from etl.life.pooling.pool import PooledDraws, pool_strata
from etl.scale.atoms import Atom
from etl.settings import Settings

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Cells:
    """Cells of the fleet: sums of their atoms, added in order of class, construction and site.

    Attributes
    ----------
    names : tuple of (str, str)
        Application class and construction, sorted.
    curves, removal_curves : Curves
    lives : Lives
        One row for the failures of a mechanism in a cell, at the geometric mean of their ages,
        and one for each age at which failures lack a mechanism, or span between two looks.
    totals : DataFrame
        n_lives, n_failures, n_suspensions, longest_life_days, n_removed, sum_log_removed by cell.
    """

    names: tuple[tuple[str, str], ...]
    curves: Curves
    removal_curves: Curves
    lives: Lives
    totals: pd.DataFrame


@dataclass(frozen=True)
class FleetLaw:
    """Joint draws of the fleet.

    Attributes
    ----------
    cells : Cells
    strata : Strata
    draws : PooledDraws
    removals : list of Removal, one a cell
    fits : DataFrame
    """

    cells: Cells
    strata: Strata
    draws: PooledDraws
    removals: list[Removal]
    fits: pd.DataFrame


def gather(atoms: Iterable[Atom]) -> Cells:
    """Add atoms up to the cells of the fleet.

    Parameters
    ----------
    atoms : iterable of Atom
        In any order.

    Returns
    -------
    Cells
    """
    ordered = sorted(atoms, key=lambda atom: (*atom.cell, atom.site))
    names = tuple(sorted({atom.cell for atom in ordered}))
    number = {name: cell for cell, name in enumerate(names)}
    cell = np.array([number[atom.cell] for atom in ordered], np.int64)
    frame = pd.DataFrame({
        "cell": cell,
        **{name: [getattr(atom, name) for atom in ordered]
           for name in ("n_lives", "n_failures", "n_suspensions", "n_removed", "longest")},
    })
    totals = frame.groupby("cell").agg({  # sums of whole numbers are exact
        "n_lives": "sum", "n_failures": "sum", "n_suspensions": "sum", "n_removed": "sum",
        "longest": "max"}).rename(columns={"longest": "longest_life_days"})
    logs: list[list[float]] = [[] for _ in names]
    for atom in ordered:
        logs[number[atom.cell]].append(atom.sum_log_removed)
    totals["sum_log_removed"] = [math.fsum(values) for values in logs]
    return Cells(names, _added([atom.curve for atom in ordered], cell, len(names)),
                 _added([atom.removal_curve for atom in ordered], cell, len(names)),
                 _failures(ordered, names, number), totals)


def _added(curves: list[Curves], cell: Ints, n_cells: int) -> Curves:
    """Add the curves of atoms, in their order."""
    joined = Curves(curves[0].log_shape_nodes, *(
        np.concatenate([getattr(curve, name) for curve in curves])
        for name in ("s0", "s1", "s2", "centre")))
    return merge(joined, cell, n_cells)


def _failures(
    atoms: list[Atom], names: tuple[tuple[str, str], ...], number: dict[tuple[str, str], int]
) -> Lives:
    """Return the failures of the fleet as few rows."""
    mechanisms = sorted({name for atom in atoms for name in
                         [*(row[0] for row in atom.known), *(row[0] for row in atom.between)]}
                        - {UNKNOWN})
    code = {name: index for index, name in enumerate(mechanisms)} | {UNKNOWN: -2}
    known: dict[tuple[int, int], list[tuple[float, float]]] = {}
    alike: dict[tuple[int, int, float, float], float] = {}
    for atom in atoms:
        cell = number[atom.cell]
        for name, n, log in atom.known:
            known.setdefault((cell, code[name]), []).append((n, log))
        for age, n in zip(*atom.masked, strict=True):
            key = (cell, -2, float(age), float(age))
            alike[key] = alike.get(key, 0.0) + float(n)
        for name, columns in atom.between:
            for low, high, n in columns.T:
                key = (cell, code[name], float(low), float(high))
                alike[key] = alike.get(key, 0.0) + float(n)
    rows = []
    for (cell, mechanism), parts in sorted(known.items()):
        n = sum(part[0] for part in parts)
        age = math.exp(math.fsum(part[1] for part in parts) / n)
        rows.append((cell, mechanism, age, age, n))
    rows += [(*key, n) for key, n in sorted(alike.items())]
    columns = np.array(rows, np.float64).reshape(-1, 5).T
    classes = tuple(sorted({name[0] for name in names}))
    constructions = tuple(sorted({name[1] for name in names}))
    return Lives(
        columns[0].astype(np.int64), np.zeros(len(rows)), columns[2], columns[3],
        columns[1].astype(np.int64), np.zeros(len(rows), np.int64), columns[4],
        np.array([classes.index(name[0]) for name in names], np.int64),
        np.array([constructions.index(name[1]) for name in names], np.int64),
        classes, constructions, tuple(mechanisms), ("fleet",))


def estimate(cells: Cells, settings: Settings) -> FleetLaw:
    """Draw the laws of all strata jointly, and summarise them.

    Parameters
    ----------
    cells : Cells
    settings : Settings

    Returns
    -------
    FleetLaw
    """
    lives = cells.lives
    strata = strata_of(lives)
    failures = failures_of(lives, strata)
    data = replace(pooling_data(lives, strata, failures), curves=cells.curves)
    draws = pool_strata(data, n_draws=settings.n_draws, seed=settings.seed)
    return FleetLaw(cells, strata, draws, _removals(cells),
                    _fits(cells, strata, failures, draws, settings.confidence))


def _removals(cells: Cells) -> list[Removal]:
    """Estimate by class when hoses are taken out unfailed, as `etl.build.removals` does."""
    kind = cells.lives.cell_class
    n_classes = len(cells.lives.classes)
    seen = sums(kind, cells.totals["n_removed"].to_numpy(np.float64), n_classes)
    group = removal_groups(seen)
    merged = merge(cells.removal_curves, group[kind], n_classes + 1)
    n_removed = sums(group[kind], cells.totals["n_removed"].to_numpy(np.float64), n_classes + 1)
    log_age = sums(group[kind], cells.totals["sum_log_removed"].to_numpy(np.float64),
                   n_classes + 1)
    shape, life = fit_curves(merged, np.arange(n_classes + 1), n_removed, log_age)
    laws = laws_of(shape, life, np.isfinite(shape), n_removed)
    return [laws[group[code]] for code in kind]


def _fits(
    cells: Cells, strata: Strata, failures: Failures, draws: PooledDraws, confidence: float
) -> pd.DataFrame:
    """Return one row a stratum and, for all mechanisms together, one a cell."""
    lives, n_cells = cells.lives, len(cells.names)
    u, m = draws.log_shape.astype(np.float64), draws.log_life.astype(np.float64)
    life, b10 = (all_cause_b_life(u, m, strata.cell, n_cells, fraction)
                 for fraction in (AT_CHARACTERISTIC_LIFE, 0.10))
    shape, alone = fit_curves(cells.removal_curves, strata.cell, failures.n_exact,
                              failures.sum_log_age)
    held = failures.interval_stratum >= 0
    n_between = sums(failures.interval_stratum[held], failures.interval_count[held],
                     strata.n_strata)
    gap = np.full(n_cells, np.nan)
    # Where ages are known only between two looks, sums do not hold a fit of the stratum alone.
    is_exact = n_between == 0
    cell = np.concatenate([strata.cell, np.arange(n_cells)])
    totals = cells.totals.iloc[cell].reset_index(drop=True)
    n_failures = np.r_[failures.n_exact + n_between, cells.totals["n_failures"]]
    frame = pd.DataFrame({
        "application_class": [cells.names[code][0] for code in cell],
        "construction": [cells.names[code][1] for code in cell],
        "mechanism": [strata.names[code] for code in strata.mechanism] + [ANY] * n_cells,
        "n_lives": totals["n_lives"].astype(int), "n_failures": n_failures.astype(int),
        "n_suspensions": (totals["n_lives"] - n_failures).astype(int),
        "longest_life_days": totals["longest_life_days"],
        "shape": number_or_gap(np.r_[np.where(is_exact, shape, np.nan), gap]),
        "characteristic_life_days": number_or_gap(np.r_[np.where(is_exact, alone, np.nan), gap]),
    })
    return pd.concat([frame, pooled_summary(lives, strata, draws, life, b10, confidence)], axis=1)
