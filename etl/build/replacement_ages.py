"""Replacement ages of every kind of hose and of every place, with the reason for each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.lives import Lives, sums
from etl.build.statistics import LifeStatistics, number_or_gap
from etl.build.words import age_reason, hazard_words
from etl.decide.age_replacement import best_ages, best_ages_of_kinds, joint_shape
from etl.decide.cost_rate import BestAges
from etl.decide.due import RulingAge, ruling_age
from etl.decide.preventive import Verdict, verdicts
from etl.life.cell_law import CellLaw
from etl.settings import Settings

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]

N_DRAWS = 50
"""Joint draws behind the age of a place; a kind's takes them all."""


@dataclass(frozen=True)
class Costs:
    """What a failure and a planned change cost at each place; NaN where unknown.

    Attributes
    ----------
    failure, planned : ndarray, shape (n_places,), reporting currency
    planned_origin : tuple of str, length n_places
        How the cost of a planned change is known.
    """

    failure: Floats
    planned: Floats
    planned_origin: tuple[str, ...]


@dataclass(frozen=True)
class PlaceAges:
    """Replacement age of every place.

    Attributes
    ----------
    best : BestAges
        Of the cost alone; NaN where a place has no hose or its kind does not wear out.
    verdict : list of Verdict, length n_places
    required : ndarray, shape (n_places,), days
        Greatest age by the site's rules; NaN where they state none.
    required_by : list of str, length n_places
        The hazard or class that the rule is for; empty where there is none.
    ruling : RulingAge
    """

    best: BestAges
    verdict: list[Verdict]
    required: Floats
    required_by: list[str]
    ruling: RulingAge

    def reasons(self, places: pd.DataFrame) -> list[str]:
        """Say why each hose is to be changed at its age, or why no age is set."""
        columns = zip(
            self.verdict, self.best.age, self.best.flat_from, self.best.flat_to, self.required,
            self.required_by, self.ruling.is_required, places["hazards"], strict=True)
        return [
            age_reason(str(verdict), age, flat_from, flat_to, days, by, is_required=is_required,
                       pays=verdict is Verdict.PAYS, hazards=hazard_words(hazards))
            for verdict, age, flat_from, flat_to, days, by, is_required, hazards in columns
        ]


def law_of(found: LifeStatistics, cell: int, step: int = 1) -> CellLaw:
    """Return the joint draws of a cell's mechanisms, every `step`-th one."""
    own = np.flatnonzero(found.strata.cell == cell)
    return CellLaw(np.exp(found.draws.log_shape[::step, own]), found.draws.log_life[::step, own])


def cell_shapes(found: LifeStatistics, confidence: float) -> Floats:
    """Return lower bound, median and upper bound of each cell's joint shape.

    Returns
    -------
    ndarray, shape (3, n_cells)
        NaN in a cell without strata.
    """
    tail = (1.0 - confidence) / 2.0
    out = np.full((3, found.lives.n_cells), np.nan)
    for cell in np.unique(found.strata.cell):
        own = np.flatnonzero(found.strata.cell == cell)
        drawn = joint_shape(found.draws.log_shape[:, own].astype(np.float64),
                            found.draws.log_life[:, own].astype(np.float64))
        out[:, cell] = np.quantile(drawn, [tail, 0.5, 1.0 - tail])
    return out


def required_intervals(places: pd.DataFrame, rules: dict[str, float]) -> tuple[Floats, list[str]]:
    """Return the shortest required interval of each place, and what it is required for.

    Parameters
    ----------
    places : DataFrame
        ``fit.places``.
    rules : dict
        Days by hazard or application class.
    """
    days, names = np.full(len(places), np.nan), [""] * len(places)
    if not rules:
        return days, names
    for at, (kind, hazards) in enumerate(
        zip(places["application_class"], places["hazards"], strict=True)
    ):
        mine = sorted((rules[name], name) for name in {kind, *hazard_words(hazards)} & rules.keys())
        if mine:
            days[at], names[at] = mine[0]
    return days, names


def place_ages(
    found: LifeStatistics, places: pd.DataFrame, cell: Ints, rate: Singles, costs: Costs,
    shapes: Floats, settings: Settings,
) -> PlaceAges:
    """Find the replacement age of every place at its own rate of failing and its own costs.

    Parameters
    ----------
    found : LifeStatistics
    places : DataFrame
        ``fit.places``, and is_in_trial.
    cell : ndarray of int, shape (n_places,)
        Kind of the present hose, -1 where there is none.
    rate : ndarray, shape (n_places, n_draws)
        Multiplier of the hazard at each place.
    costs : Costs
    shapes : ndarray, shape (3, n_cells)
        From `cell_shapes`.
    settings : Settings

    Returns
    -------
    PlaceAges
    """
    n_places, n_draws = rate.shape
    step = max(1, n_draws // N_DRAWS)
    best = BestAges.unknown(n_places)
    for number in np.unique(cell[cell >= 0]):
        if not shapes[0, number] > 1.0:
            continue
        mine = np.flatnonzero(cell == number)
        best.put(mine, best_ages(
            law_of(found, int(number), step), np.ascontiguousarray(rate[mine][:, ::step]),
            costs.planned[mine], costs.failure[mine], confidence=settings.confidence))
    lower = np.full(n_places, np.nan)
    lower[cell >= 0] = shapes[0, cell[cell >= 0]]
    said = verdicts(best, lower, costs.planned, costs.failure, settings.preventive_chance,
                    settings.preventive_least_share)
    # A rule of the site still rules there: only what cost alone would plan waits for the trial.
    said = [Verdict.IN_TRIAL if is_tried and verdict is Verdict.PAYS else verdict
            for verdict, is_tried in zip(said, places["is_in_trial"], strict=True)]
    days, by = required_intervals(places, settings.required_intervals())
    pays = np.array([verdict is Verdict.PAYS for verdict in said], bool)
    ruling = ruling_age(np.where(pays, best.age, np.nan), np.where(pays, best.flat_from, np.nan),
                        np.where(pays, best.flat_to, np.nan), days)
    return PlaceAges(best, said, days, by, ruling)


def kind_ages(
    found: LifeStatistics, places: pd.DataFrame, cell: Ints, costs: Costs, shapes: Floats,
    settings: Settings,
) -> pd.DataFrame:
    """Find the replacement age of every kind of hose at its typical costs.

    Parameters
    ----------
    found, places, cell, costs, shapes, settings
        As for `place_ages`.

    Returns
    -------
    DataFrame
        One row an application class and construction.
    """
    lives, rules = found.lives, settings.required_intervals()
    failure, planned = (_typical(values, places, cell, lives)
                        for values in (costs.failure, costs.planned))
    best, kinds = BestAges.unknown(lives.n_cells), np.unique(found.strata.cell)
    best.put(kinds, best_ages_of_kinds([law_of(found, int(number)) for number in kinds],
                                       planned[kinds], failure[kinds],
                                       confidence=settings.confidence))
    said = verdicts(best, shapes[0], planned, failure, settings.preventive_chance,
                    settings.preventive_least_share)
    pays = np.array([verdict is Verdict.PAYS for verdict in said], bool)
    failed = sums(lives.cell[lives.is_failure], lives.count[lives.is_failure], lives.n_cells)
    total = sums(lives.cell, lives.count, lives.n_cells)
    return pd.DataFrame({
        "application_class": [lives.classes[code] for code in lives.cell_class],
        "construction": [lives.constructions[code] for code in lives.cell_construction],
        "n_failures": failed.round(), "n_suspensions": (total - failed).round(),
        "shape": number_or_gap(shapes[1]), "shape_lower": number_or_gap(shapes[0]),
        "shape_upper": number_or_gap(shapes[2]), "cost_per_failure": number_or_gap(failure),
        "cost_per_planned_change": number_or_gap(planned), "verdict": [str(v) for v in said],
        **age_columns(best, pays), "required_interval_days": number_or_gap(
            np.array([rules.get(lives.classes[code], np.nan) for code in lives.cell_class])),
    })


def age_columns(best: BestAges, pays: NDArray[np.bool_]) -> dict[str, object]:
    """Return what is published: ages where one pays, savings where any age would save."""
    saves = np.isfinite(best.age)
    shown = {
        "preventive_age_days": (best.age, pays), "flat_from_days": (best.flat_from, pays),
        "flat_to_days": (best.flat_to, pays),
        "failing_before_probability": (best.failing_before, pays),
        "saving_per_year": (best.saving, saves),
        "saving_per_year_lower": (best.saving_lower, saves),
        "saving_per_year_upper": (best.saving_upper, saves),
        "saving_probability": (best.chance, saves), "cost_per_year": (best.cost, saves),
        "cost_per_year_on_failure": (best.cost_never, saves),
    }
    return {name: number_or_gap(np.where(known, values, np.nan))
            for name, (values, known) in shown.items()}


def _typical(values: Floats, places: pd.DataFrame, cell: Ints, lives: Lives) -> Floats:
    """Return the mean over the places with a hose of each kind, else over the kind's class."""
    known = np.isfinite(values)

    def mean(code: Ints, n: int) -> Floats:
        mine = known & (code >= 0)
        count = sums(code[mine], np.ones(int(mine.sum())), n)
        total = sums(code[mine], values[mine], n)
        return np.asarray(np.divide(total, count, out=np.full(n, np.nan), where=count > 0))

    names = pd.Index(places["application_class"])
    classes = pd.Index(lives.classes, dtype=object).get_indexer(names)
    here = mean(cell, lives.n_cells)
    in_class = mean(classes.astype(np.int64), len(lives.classes))[lives.cell_class]
    return np.asarray(np.where(np.isfinite(here), here, in_class))
