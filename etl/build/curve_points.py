"""Curves on the pages, as tables of points: no formula lives in the dashboard."""

from __future__ import annotations

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.aside import HERE, Aside
from etl.build.free_survival import free_spans
from etl.build.lives import ANY, Lives
from etl.build.standalone import Rows
from etl.build.statistics import LifeStatistics, cells_of, number_or_gap
from etl.build.strata import Strata
from etl.life.bounds_survival import normal_survival
from etl.life.compare_distributions import compare_distributions
from etl.life.competing import cumulative_incidence
from etl.life.fit import StrataFit
from etl.life.plotting import PlotPoints, plot_points, rank_regression
from etl.life.weibull import survival

Floats = NDArray[np.float64]

N_AGES = 32
"""Points of a survival curve, evenly and again by ratio: enough for straight and for log axes."""
LEAST_EVENTS = 5
"""Failures from which on the textbook's second opinions and survival without a law are given."""
FOUND_SHARE = 0.10
"""Share of failures found at a look from which on steps that take each find for its day go wrong
by more than a figure shows."""
N_AGES_INCIDENCE = 25
DRAWS_INCIDENCE = 40
FAR = 2.5
"""Curves run to this many times the oldest life, or to where almost all have failed."""
AS_GOOD = "no other distribution compared describes these lives clearly better than the Weibull"
BETTER = {
    "lognormal": "a lognormal distribution describes these lives clearly better than the Weibull",
    "exponential": "a constant hazard describes these lives as well, with one parameter less",
}


def add_curves(
    con: duckdb.DuckDBPyConnection, found: LifeStatistics, confidence: float, aside: Aside = HERE
) -> None:
    """Register the frames of curves, plot points, second opinions, incidence, and free survival.

    Parameters
    ----------
    con : DuckDBPyConnection
    found : LifeStatistics
    confidence : float
        Content of the bands.
    aside : Aside
        Finds survival without a law, plot points and second opinions; its `finish` registers
        ``free_survival_frame``, ``plot_points_frame`` and ``fit_tests_frame``.
    """
    lives, strata = found.lives, found.strata
    rows, fit = found.alone()
    enough = fit.n_failures + fit.n_intervals >= LEAST_EVENTS
    is_found = fit.n_intervals >= FOUND_SHARE * (fit.n_failures + fit.n_intervals)
    aside.run(lambda free: con.register("free_survival_frame", labelled(lives, strata, free)),
              free_spans, rows, enough & is_found & (fit.n_intervals > 0.0))

    def take(points: PlotPoints, tests: pd.DataFrame) -> None:
        con.register("plot_points_frame", _points(points, lives, strata))
        con.register("fit_tests_frame", labelled(lives, strata, tests))

    aside.run(lambda both: take(*both), points_and_opinions, rows, fit)
    con.register("life_curves_frame", _survival(found, fit, confidence))
    con.register("cumulative_incidence_frame", _incidence(found))


def labelled(lives: Lives, strata: Strata, frame: pd.DataFrame) -> pd.DataFrame:
    """Return rows about fits with the names of the fits in place of numbers."""
    names = pd.DataFrame(label(lives, strata, frame["fit"].to_numpy(np.int64)), dtype=str)
    return pd.concat([names, frame.drop(columns="fit")], axis=1)


def label(lives: Lives, strata: Strata, number: NDArray[np.int64]) -> dict[str, list[str]]:
    """Return class, construction and mechanism of fits: strata first, then one fit a cell."""
    cell = cells_of(lives, strata)[number]
    names = [strata.names[code] for code in strata.mechanism] + [ANY] * lives.n_cells
    return {
        "application_class": np.array(lives.classes, object)[lives.cell_class[cell]].tolist(),
        "construction":
            np.array(lives.constructions, object)[lives.cell_construction[cell]].tolist(),
        "mechanism": np.array(names, object)[number].tolist(),
    }


def _survival(found: LifeStatistics, fit: StrataFit, confidence: float) -> pd.DataFrame:
    """Return survival over age, pooled and stand-alone, each with its band."""
    lives, strata = found.lives, found.strata
    ages = ages_shown(lives, np.median(found.b10, axis=0))
    alone = survival_alone(fit, ages[cells_of(lives, strata)], confidence)
    tail = (1.0 - confidence) / 2.0
    parts = []
    for cell, age in enumerate(ages):
        mine = np.flatnonzero(strata.cell == cell)
        power = np.exp(found.draws.log_shape[:, mine, None]) * (
            np.log(np.maximum(age, 1e-9)) - found.draws.log_life[:, mine, None]
        )
        hazard = np.exp(np.minimum(power, 50.0))
        for number, total in [
            *((int(k), hazard[:, at]) for at, k in enumerate(mine)),
            (strata.n_strata + cell, hazard.sum(axis=1)),
        ]:
            lower, middle, upper = np.quantile(np.exp(-total), [tail, 0.5, 1.0 - tail], axis=0)
            parts.append(pd.DataFrame({
                **label(lives, strata, np.full(age.size, number)), "age_days": age,
                "survival": middle, "survival_lower": lower, "survival_upper": upper,
                **{name: values[number] for name, values in alone.items()},
            }))
    return pd.concat(parts, ignore_index=True) if parts else _no_rows(
        "application_class construction mechanism age_days survival survival_lower "
        "survival_upper survival_alone survival_alone_lower survival_alone_upper"
    )


def ages_shown(lives: Lives, b10: Floats) -> Floats:
    """Return the ages at which curves of each cell are given.

    Parameters
    ----------
    lives : Lives
    b10 : ndarray, shape (n_cells,)
        B10 of each cell, reached by its curves; NaN or infinite where there is none.

    Returns
    -------
    ndarray, shape (n_cells, n_ages)
    """
    oldest = np.ones(lives.n_cells)
    np.maximum.at(oldest, lives.cell, lives.end)
    share = np.union1d(np.linspace(0.0, 1.0, N_AGES), np.geomspace(2e-4, 1.0, N_AGES))
    far = np.maximum(FAR * oldest, np.where(np.isfinite(b10), b10, 0.0))
    return far[:, None] * share


def survival_alone(
    fit: StrataFit, ages: Floats, confidence: float
) -> dict[str, list[pd.arrays.FloatingArray]]:
    """Return stand-alone survival with its normal-approximation band, empty without an estimate."""
    bounds = normal_survival(fit, ages, confidence)
    best = survival(ages, fit.shape[:, None], fit.characteristic_life[:, None])
    known = np.where(fit.has_estimate, 1.0, np.nan)[:, None]
    named = {"survival_alone": best, "survival_alone_lower": bounds.lower,
             "survival_alone_upper": bounds.upper}
    return {name: [number_or_gap(row) for row in known * values] for name, values in named.items()}


def _points(found: PlotPoints, lives: Lives, strata: Strata) -> pd.DataFrame:
    """Return plotting positions with the names of the fits."""
    return pd.DataFrame({
        **label(lives, strata, found.stratum), "age_days": found.age,
        "failure_probability": found.failure_probability,
        "kind": np.where(found.is_interval, "interval", "failed"),
    })


def points_of(rows: Rows) -> PlotPoints:
    """Return plotting positions of every fit; a row of several lives gives every rank."""
    each = np.repeat(np.arange(rows.stratum.size), rows.count.round().astype(int))
    return plot_points(rows.stratum[each], rows.entry[each], rows.low[each], rows.high[each],
                       1.0, rows.n_strata)


def points_and_opinions(rows: Rows, fit: StrataFit) -> tuple[PlotPoints, pd.DataFrame]:
    """Return plotting positions of every fit, and second opinions on those with enough failures.

    Parameters
    ----------
    rows : Rows
    fit : StrataFit
        Their fit.

    Returns
    -------
    points : PlotPoints
        Median ranks; a row of several lives gives every rank.
    opinions : DataFrame
        fit; the line of rank regression, corrected Akaike criteria, and the best law in words.
    """
    points = points_of(rows)
    line = rank_regression(points, rows.n_strata)
    versus = compare_distributions(rows.stratum, rows.entry, rows.low, rows.high, rows.count,
                                   rows.n_strata, fit)
    enough = fit.has_estimate & (fit.n_failures + fit.n_intervals >= LEAST_EVENTS)
    number = np.flatnonzero(enough)
    names = [versus.best[k] or "weibull" for k in number]
    clear = versus.is_clear[number]
    return points, pd.DataFrame({
        "fit": number,
        "rank_regression_shape": line.shape_x_on_y[number],
        "rank_regression_characteristic_life_days": line.characteristic_life_x_on_y[number],
        "best_distribution": names, "aicc_weibull": versus.aicc_weibull[number],
        "aicc_lognormal": versus.aicc_lognormal[number],
        "aicc_exponential": versus.aicc_exponential[number],
        "words": [
            BETTER[name] if is_clear and name in BETTER else AS_GOOD
            for name, is_clear in zip(names, clear, strict=True)
        ],
    })


def _incidence(found: LifeStatistics) -> pd.DataFrame:
    """Return the chance of having failed by each mechanism, all of them competing."""
    lives, strata = found.lives, found.strata
    oldest = np.ones(lives.n_cells)
    np.maximum.at(oldest, lives.cell, lives.end)
    step = max(1, found.draws.log_shape.shape[0] // DRAWS_INCIDENCE)
    parts = []
    for cell in range(lives.n_cells):
        mine = np.flatnonzero(strata.cell == cell)
        age = np.linspace(0.0, 1.5 * oldest[cell], N_AGES_INCIDENCE)
        chance = cumulative_incidence(
            found.draws.log_shape[::step, mine], found.draws.log_life[::step, mine], age
        ).mean(axis=0)
        for at, number in enumerate(mine):
            parts.append(pd.DataFrame({
                **label(lives, strata, np.full(age.size, number)), "age_days": age,
                "probability": np.clip(chance[:, at], 0.0, 1.0),
            }))
    return pd.concat(parts, ignore_index=True) if parts else _no_rows(
        "application_class construction mechanism age_days probability"
    )


def _no_rows(columns: str) -> pd.DataFrame:
    """Return an empty frame whose columns have the types of a full one."""
    return pd.DataFrame({
        name: pd.Series(dtype=str if name in ("application_class", "construction", "mechanism")
                        else np.float64)
        for name in columns.split()
    })
