"""Kinds of hose compared two by two, where class or construction is the same for both.

Pairs are published rather than each kind's draws: a page then shows a number that stands in the
edition and can be exported, instead of working it out. Kinds that share neither class nor
construction are not compared, since nothing would tell which of the two made the difference.
"""

from __future__ import annotations

from dataclasses import dataclass

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.lives import ANY, Lives, curves_of, sums
from etl.build.standalone import Rows
from etl.build.statistics import TENTH, LifeStatistics, number_or_gap
from etl.life.compare_groups import life_ratio, shape_ratio
from etl.life.likelihood_ratio import Groups, law_tests
from etl.life.log_rank import EARLY, EVEN, LATE, log_ranks, stated_age

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_PARTNERS = 12
"""Kinds of a class, and of a construction, that every other one there is compared with: those
with the most failures. A bound, so that the work grows with the kinds and not with their square;
up to 13 kinds side by side it leaves nothing out."""


LOG_RANKS = {"log_rank_p_value": EVEN, "log_rank_early_p_value": EARLY,
             "log_rank_late_p_value": LATE}


@dataclass(frozen=True)
class Pairs:
    """Cells to compare.

    Attributes
    ----------
    first, second : ndarray of int, shape (n_pairs,)
    block : ndarray of int, shape (n_pairs,)
        What both share: an application class, or after all classes a construction.
    """

    first: Ints
    second: Ints
    block: Ints


def add_comparisons(
    con: duckdb.DuckDBPyConnection, found: LifeStatistics, confidence: float
) -> None:
    """Register the frame of comparisons, one row a pair of kinds and mechanism.

    Parameters
    ----------
    con : DuckDBPyConnection
    found : LifeStatistics
    confidence : float
        Content of the ranges.

    Notes
    -----
    Ratios of lives come from the joint draws, in which kinds that lean on one another move
    together. Tests rest on the lives of the two kinds alone.
    """
    lives, strata = found.lives, found.strata
    rows, _ = found.alone()
    age, failed = stated_age(rows.low, rows.high), np.isfinite(rows.high)
    deaths = np.where(failed, rows.count, 0.0)
    cell = np.concatenate([strata.cell, np.arange(lives.n_cells)])
    log_age = np.log(np.where(failed, age, 1.0))
    groups = Groups(curves_of(lives), cell, sums(rows.stratum, deaths, rows.n_strata),
                    sums(rows.stratum, deaths * log_age, rows.n_strata))
    n_lives = sums(rows.stratum, rows.count, rows.n_strata)
    pairs = pairs_of(lives, groups.n_failures[strata.n_strata:])
    fits = np.column_stack([strata.number(lives.n_cells),
                            strata.n_strata + np.arange(lives.n_cells)])
    finder, parts = _Finder(rows), []
    for code, mechanism in enumerate((*strata.names, ANY)):
        one, two = fits[pairs.first, code], fits[pairs.second, code]
        both = (one >= 0) & (two >= 0)
        if not both.any():
            continue
        part = _names(lives, pairs, both, mechanism)
        one, two = one[both], two[both]
        for prefix, side in (("", one), ("other_", two)):
            part[f"{prefix}n_failures"] = groups.n_failures[side].round().astype(int)
            part[f"{prefix}n_suspensions"] = (
                n_lives - groups.n_failures)[side].round().astype(int)
        part |= _ratios(found, one, two, confidence)
        part |= _tests(found, groups, one, two)
        part |= finder.log_ranks(one, two, pairs.block[both])
        parts.append(pd.DataFrame(part))
    con.register("life_comparisons_frame", pd.concat(parts, ignore_index=True) if parts
                 else pd.DataFrame(_names(lives, pairs, np.zeros(0, bool), ANY) | {
                     name: pd.Series(dtype=np.float64) for name in NUMBERS}))


NUMBERS = (
    "n_failures", "n_suspensions", "other_n_failures", "other_n_suspensions",
    "b10_ratio", "b10_ratio_lower", "b10_ratio_upper", "longer_b10_probability",
    "characteristic_life_ratio", "characteristic_life_ratio_lower",
    "characteristic_life_ratio_upper", "longer_characteristic_life_probability",
    "shape_ratio", "shape_ratio_lower", "shape_ratio_upper", "shape_p_value", "life_p_value",
    "law_p_value", *LOG_RANKS,
)


def pairs_of(lives: Lives, n_failures: Floats) -> Pairs:
    """List the pairs of cells that share a class or a construction.

    Parameters
    ----------
    lives : Lives
    n_failures : ndarray, shape (n_cells,)

    Returns
    -------
    Pairs
        Each pair once, the lower cell first.
    """
    n_classes = len(lives.classes)
    listed: list[Ints] = [np.zeros((3, 0), np.int64)]
    for key, start in ((lives.cell_class, 0), (lives.cell_construction, n_classes)):
        for code in np.unique(key):
            members = np.flatnonzero(key == code)
            order = members[np.lexsort((members, -n_failures[members]))]
            lead = order[:MOST_PARTNERS]
            a, b = np.meshgrid(lead, order, indexing="ij")
            later = np.arange(order.size)[None, :] > np.arange(lead.size)[:, None]
            pair = np.sort(np.stack([a[later], b[later]]), axis=0)
            block = np.full((1, pair.shape[1]), start + code)
            listed.append(np.concatenate([pair, block]))
    table = np.concatenate(listed, axis=1)
    first, second, block = table[:, np.lexsort((table[1], table[0]))]
    return Pairs(first, second, block)


class _Finder:
    """The lives of a few fits at a time, for the log-rank test."""

    def __init__(self, rows: Rows) -> None:
        """Sort the rows by fit."""
        order = np.argsort(rows.stratum, kind="stable")
        self._columns = [column[order] for column in (
            rows.stratum, rows.entry, rows.low, rows.high, rows.count)]
        self._borders = np.searchsorted(self._columns[0], np.arange(rows.n_strata + 1))

    def log_ranks(
        self, one: Ints, two: Ints, block: Ints
    ) -> dict[str, pd.arrays.FloatingArray]:
        """Return the p-values of each pair of fits; all pairs of a block share one table."""
        p_values = np.full((len(LOG_RANKS), one.size), np.nan)
        for code in np.unique(block):
            mine = np.flatnonzero(block == code)
            fits, place = np.unique(np.concatenate([one[mine], two[mine]]), return_inverse=True)
            sizes = self._borders[fits + 1] - self._borders[fits]
            group = np.repeat(np.arange(fits.size), sizes)
            starts = np.cumsum(sizes) - sizes
            at = np.arange(group.size) + np.repeat(self._borders[fits] - starts, sizes)
            _, entry, low, high, count = (column[at] for column in self._columns)
            tests = log_ranks(group, entry, low, high, count, place[:mine.size],
                              place[mine.size:], tuple(LOG_RANKS.values()))
            p_values[:, mine] = [test.p_value for test in tests]
        return {name: number_or_gap(p) for name, p in zip(LOG_RANKS, p_values, strict=True)}


def _names(
    lives: Lives, pairs: Pairs, which: NDArray[np.bool_], mechanism: str
) -> dict[str, object]:
    """Return the kinds of the pairs, and the mechanism by which they are compared."""
    out: dict[str, object] = {}
    for prefix, side in (("", pairs.first), ("other_", pairs.second)):
        cell = side[which] if which.size else side[:0]
        out[f"{prefix}application_class"] = np.array(lives.classes, object)[lives.cell_class[cell]]
        out[f"{prefix}construction"] = np.array(lives.constructions, object)[
            lives.cell_construction[cell]]
    return out | {"mechanism": np.full(int(which.sum()), mechanism, object)}


def _ratios(
    found: LifeStatistics, one: Ints, two: Ints, confidence: float
) -> dict[str, object]:
    """Return how many times as long the first lasts, by B10 and by characteristic life."""
    n_strata = found.strata.n_strata
    columns: dict[str, object] = {}
    for name, whole, fraction in (("b10", found.b10, TENTH),
                                  ("characteristic_life", found.life, 0.0)):
        sides = [_log_life(found, whole, fraction, side, n_strata) for side in (one, two)]
        ratio = life_ratio(sides[0], sides[1], confidence)
        columns[f"{name}_ratio"] = number_or_gap(ratio.middle)
        columns[f"{name}_ratio_lower"] = number_or_gap(ratio.lower)
        columns[f"{name}_ratio_upper"] = number_or_gap(ratio.upper)
        columns[f"longer_{name}_probability"] = number_or_gap(ratio.is_longer_probability)
    return columns


def _log_life(
    found: LifeStatistics, whole: Floats, log_hazard: float, fits: Ints, n_strata: int
) -> Floats:
    """Return log lives of fits in every draw: strata of one mechanism, or cells as a whole."""
    if fits[0] >= n_strata:
        return np.log(whole[:, fits - n_strata])
    shape = np.exp(found.draws.log_shape[:, fits].astype(np.float64))
    return np.asarray(found.draws.log_life[:, fits] + log_hazard / shape)


def _tests(found: LifeStatistics, groups: Groups, one: Ints, two: Ints) -> dict[str, object]:
    """Return the ratio of stand-alone shapes and the likelihood-ratio tests."""
    shape, low, high = found.shape_alone
    middle, lower, upper = shape_ratio(shape, low, high, one, two)
    tests = law_tests(groups, one, two)
    return {
        "shape_ratio": number_or_gap(middle),
        "shape_ratio_lower": number_or_gap(np.where(lower > 0.0, lower, np.nan)),
        "shape_ratio_upper": number_or_gap(upper),
        "shape_p_value": number_or_gap(tests.shape.p_value),
        "life_p_value": number_or_gap(tests.life.p_value),
        "law_p_value": number_or_gap(tests.law.p_value),
    }
