"""Life statistics of every stratum: stand-alone, pooled, and as points of curves."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import sparse

from etl.build.aside import HERE, Aside
from etl.build.late_records import watched_lives
from etl.build.lives import ANY, Lives, curves_of, sums
from etl.build.standalone import FitChecks, Rows, fit_checks, standalone_rows
from etl.build.strata import Failures, Strata, failures_of, strata_of
from etl.build.track.laws import Present
from etl.build.words import fit_note
from etl.life.bounds import LifeBounds, likelihood_ratio_bounds
from etl.life.competing import AT_CHARACTERISTIC_LIFE, all_cause_b_life
from etl.life.fit import StrataFit, fit_arranged, fit_strata
from etl.life.pooling.data import PoolingData
from etl.life.pooling.elsewhere import surprise
from etl.life.pooling.pool import PooledDraws, pool_strata
from etl.life.reporting_delay import IN_TIME
from etl.life.strata import arrange_strata
from etl.life.weibull import mean_life
from etl.settings import Settings

Floats = NDArray[np.float64]
TENTH = float(np.log(-np.log(0.9)))


@dataclass(frozen=True)
class LifeStatistics:
    """What the decisions build on."""

    as_of: date
    lives: Lives
    strata: Strata
    draws: PooledDraws
    b10: Floats
    """Pooled B10 of each cell with all mechanisms competing, shape (n_draws, n_cells), days."""
    life: Floats
    """Pooled characteristic life of each cell, all mechanisms competing, shape as `b10`, days."""
    shape_alone: Floats
    """Stand-alone shape, lower and upper bound of each fit, shape (3, n_strata + n_cells): strata
    first, then cells; NaN without an estimate."""
    late: LateRecords | None = None
    """None where every failure is on record."""
    by_itself: tuple[Rows, StrataFit] | None = None
    """Kept where it is known already; see `alone`."""

    def alone(self) -> tuple[Rows, StrataFit]:
        """Return the lives laid out for the stand-alone fits, and these."""
        if self.by_itself is not None:
            return self.by_itself
        rows = standalone_rows(self.lives, self.strata)
        return rows, fit_strata(rows.stratum, rows.entry, rows.low, rows.high, rows.count,
                                rows.n_strata)

    @property
    def share(self) -> Floats:
        """Return what share of a month's failures is on record 0, 1, ... months later."""
        return IN_TIME if self.late is None else self.late.share

    @property
    def watched(self) -> Lives:
        """Lives as far as failures in them would be on record: what the draws rest on."""
        return self.lives if self.late is None else self.late.watched


@dataclass(frozen=True)
class LateRecords:
    """What is known of failures that come on record late.

    Attributes
    ----------
    share : ndarray, shape (k,), k > 1
        Of a month's failures on record 0, 1, ... months later.
    watched : Lives
        Those of hoses in service cut to what has surely been watched.
    """

    share: Floats
    watched: Lives

    @classmethod
    def of(
        cls, con: duckdb.DuckDBPyConnection, lives: Lives, share: Floats
    ) -> LateRecords | None:
        """Cut the lives, unless failures come on record in time."""
        if share.size == 1:
            return None
        frame = con.execute("select cell, age_days from fit.places order by place").df()
        present = Present(frame["cell"].fillna(-1).to_numpy(np.int64),
                          frame["age_days"].fillna(0.0).to_numpy(np.float64))
        return cls(share, watched_lives(lives, present, share))


def life_statistics(
    con: duckdb.DuckDBPyConnection, lives: Lives, as_of: date, settings: Settings,
    aside: Aside = HERE, share: Floats = IN_TIME,
) -> LifeStatistics:
    """Estimate every stratum and register its frame.

    Parameters
    ----------
    con : DuckDBPyConnection
        ``fits_frame`` and ``fit_checks_frame`` are registered here for the results layer.
    lives : Lives
    as_of : date
        Data date.
    settings : Settings
    aside : Aside
        Examines the fits; its `finish` registers ``fit_checks_frame``.
    share : ndarray, shape (k,)
        Of a month's failures on record 0, 1, ... months later. The pooled draws allow for it; fits
        of each stratum by itself show the record as it stands.

    Returns
    -------
    LifeStatistics
    """
    strata = strata_of(lives)
    rows = standalone_rows(lives, strata)
    fit, alone, shapes = fitted_alone(rows, settings.confidence)
    names = fit_names(lives, strata)
    labels = ["\x1f".join(row) for row in names.to_numpy()]
    aside.run(lambda checks: con.register("fit_checks_frame", _checked(names, checks)),
              fit_checks, rows, fit, settings.seed, labels)
    late = LateRecords.of(con, lives, share)
    watched = lives if late is None else late.watched
    draws = pool_strata(
        pooling_data(watched, strata, failures_of(watched, strata)),
        n_draws=settings.n_draws, seed=settings.seed,
    )
    u, m = draws.log_shape.astype(np.float64), draws.log_life.astype(np.float64)
    life, b10 = (
        all_cause_b_life(u, m, strata.cell, lives.n_cells, fraction)
        for fraction in (AT_CHARACTERISTIC_LIFE, 0.10)
    )
    frame = pd.concat(
        [names, alone, _if_failed(con, lives, strata),
         pooled_summary(lives, strata, draws, life, b10, settings.confidence)], axis=1,
    )
    frame["longest_life_days"] = longest_lives(lives)[cells_of(lives, strata)]
    frame["n_unknown"] = unknown_failures(lives)[cells_of(lives, strata)].astype(int)
    frame["note"] = [
        fit_note(int(n), oldest, life) for n, oldest, life in
        zip(frame["n_unknown"], frame["longest_life_days"],
            frame["pooled_characteristic_life_days"], strict=True)
    ]
    con.register("fits_frame", frame)
    return LifeStatistics(as_of, lives, strata, draws, b10, life, shapes, late, (rows, fit))


def pooling_data(lives: Lives, strata: Strata, failures: Failures) -> PoolingData:
    """Hand the fleet over to pooling, one row a failure that lacks a mechanism or an age."""
    masked = np.repeat(np.arange(failures.masked_cell.size), failures.masked_count.astype(int))
    spans = np.repeat(np.arange(failures.interval_cell.size), failures.interval_count.astype(int))
    return PoolingData(
        curves_of(lives), strata.cell,
        (lives.cell_class[strata.cell], lives.cell_construction[strata.cell], strata.mechanism),
        failures.n_exact, failures.sum_log_age,
        failures.masked_cell[masked], failures.masked_age[masked],
        failures.interval_cell[spans], failures.interval_stratum[spans],
        failures.interval_low[spans], failures.interval_high[spans],
    )


def cells_of(lives: Lives, strata: Strata) -> NDArray[np.int64]:
    """Return the cell of each row of the fits: strata first, then one row a cell."""
    return np.concatenate([strata.cell, np.arange(lives.n_cells)])


def fit_names(lives: Lives, strata: Strata) -> pd.DataFrame:
    """Return class, construction and mechanism of every fit: strata first, then cells."""
    cell = cells_of(lives, strata)
    names = [strata.names[code] for code in strata.mechanism] + [ANY] * lives.n_cells
    return pd.DataFrame({
        "application_class": [lives.classes[code] for code in lives.cell_class[cell]],
        "construction": [lives.constructions[code] for code in lives.cell_construction[cell]],
        "mechanism": names,
    })


def fitted_alone(rows: Rows, confidence: float) -> tuple[StrataFit, pd.DataFrame, Floats]:
    """Fit each stratum on its own lives, with likelihood-ratio bounds.

    Parameters
    ----------
    rows : Rows
        Ages in days, or in the unit of another clock: names of columns say days all the same.
    confidence : float

    Returns
    -------
    fit : StrataFit
    estimates : DataFrame
        Counts, status and estimates of each fit, as in ``results.fits``.
    shapes : ndarray, shape (3, n_fits)
        Shape, lower and upper bound.
    """
    arranged = arrange_strata(
        rows.stratum, rows.entry, rows.low, rows.high, rows.count, rows.n_strata
    )
    fit = fit_arranged(arranged)
    bounds = likelihood_ratio_bounds(arranged, fit, confidence, (0.10,))
    shapes = np.stack([fit.shape, bounds.shape.lower, bounds.shape.upper])
    return fit, pd.DataFrame(_estimates(fit, bounds)), shapes


def _checked(names: pd.DataFrame, checks: FitChecks) -> pd.DataFrame:
    """Say of every fit whether the Weibull describes the lives, and if another law does better."""
    return pd.concat([names, pd.DataFrame({
        "three_parameter_outcome": checks.outcomes,
        **{name: number_or_gap(values) for name, values in checks.figures.items()},
    })], axis=1)


def _estimates(fit: StrataFit, bounds: LifeBounds) -> dict[str, object]:
    """Return counts, status and estimates; what does not exist is left empty."""
    with np.errstate(invalid="ignore"):
        b10 = np.exp(np.log(fit.characteristic_life) + TENTH / fit.shape)
        mean = mean_life(fit.shape, fit.characteristic_life)
    events = fit.n_failures + fit.n_intervals
    return {
        "n_lives": (events + fit.n_suspensions).round().astype(int),
        "n_failures": events.round().astype(int),
        "n_intervals": fit.n_intervals.round().astype(int),
        "n_suspensions": fit.n_suspensions.round().astype(int),
        "status": [str(status) for status in fit.status],
        "shape": number_or_gap(fit.shape), "shape_lower": number_or_gap(bounds.shape.lower),
        "shape_upper": number_or_gap(bounds.shape.upper),
        "characteristic_life_days": number_or_gap(fit.characteristic_life),
        "characteristic_life_days_lower": number_or_gap(bounds.characteristic_life.lower),
        "characteristic_life_days_upper": number_or_gap(bounds.characteristic_life.upper),
        "b10_days": number_or_gap(b10), "b10_days_lower": number_or_gap(bounds.b_life.lower[:, 0]),
        "b10_days_upper": number_or_gap(bounds.b_life.upper[:, 0]),
        "log_likelihood": number_or_gap(fit.log_likelihood), "mean_life_days": number_or_gap(mean),
    }


def number_or_gap(values: Floats) -> pd.arrays.FloatingArray:
    """Return numbers with everything that is no finite number empty, not NaN."""
    gaps = ~np.isfinite(values)
    return pd.arrays.FloatingArray(np.where(gaps, 0.0, values), gaps)


def _if_failed(con: duckdb.DuckDBPyConnection, lives: Lives, strata: Strata) -> pd.DataFrame:
    """Return the stand-alone B10 of each cell had every removal without a reason been a failure."""
    frame = con.execute("select * from fit.lives_if_failed order by all").fetchnumpy()
    fit = fit_strata(frame["cell"], frame["entry"], frame["low"], frame["high"], frame["n"],
                     lives.n_cells)
    with np.errstate(invalid="ignore"):
        b10 = np.exp(np.log(fit.characteristic_life) + TENTH / fit.shape)
    return pd.DataFrame({
        "b10_days_if_unknown_failed": number_or_gap(np.r_[np.full(strata.n_strata, np.nan), b10])
    })


def pooled_summary(
    lives: Lives, strata: Strata, draws: PooledDraws, life: Floats, b10: Floats, confidence: float
) -> pd.DataFrame:
    """Summarise the joint draws: median and bounds of each stratum, and of each cell as a whole."""
    u, m = draws.log_shape.astype(np.float64), draws.log_life.astype(np.float64)
    none = np.full((u.shape[0], lives.n_cells), np.nan)
    own = draws.own_data_share
    concluded = lives.mechanism >= 0
    known_cell, known, count = (
        lives.cell[concluded], lives.mechanism[concluded], lives.count[concluded])
    # A cell's answer rests on its strata in proportion to their failures.
    weight = 0.5 + sums(strata.number(lives.n_cells)[known_cell, known], count, strata.n_strata)
    cell_own = sums(strata.cell, own * weight, lives.n_cells) / np.maximum(
        sums(strata.cell, weight, lives.n_cells), 0.5)
    columns: dict[str, object] = {"own_data_share": np.r_[own, cell_own]}
    columns |= _against_others(draws, strata, lives.n_cells, confidence)
    for name, values in (
        ("pooled_shape", np.hstack([np.exp(u), none])),
        ("pooled_characteristic_life_days", np.hstack([np.exp(m), life])),
        ("pooled_b10_days", np.hstack([np.exp(m + TENTH / np.exp(u)), b10])),
    ):
        tail = (1.0 - confidence) / 2.0
        lower, middle, upper = np.quantile(values, [tail, 0.5, 1.0 - tail], axis=0)
        columns[name] = number_or_gap(middle)
        columns[f"{name}_lower"] = number_or_gap(lower)
        columns[f"{name}_upper"] = number_or_gap(upper)
    return pd.DataFrame(columns)


def _against_others(
    draws: PooledDraws, strata: Strata, n_cells: int, confidence: float
) -> dict[str, Floats]:
    """Return the failures that others lead one to expect, and how odd those seen are beside them.

    Strata first, then every cell with all its strata together.
    """
    if draws.elsewhere is None:
        return {}
    seen, expected = draws.elsewhere.seen, draws.elsewhere.expected.astype(np.float64)
    whole = sparse.csr_matrix((np.ones(seen.size), (strata.cell, np.arange(seen.size))),
                              shape=(n_cells, seen.size))
    expected = np.hstack([expected, np.asarray((whole @ expected.T).T)])
    tail = (1.0 - confidence) / 2.0
    lower, middle, upper = np.quantile(expected, [tail, 0.5, 1.0 - tail], axis=0)
    return {"failures_expected": middle, "failures_expected_lower": lower,
            "failures_expected_upper": upper,
            "expected_p_value": surprise(np.r_[seen, whole @ seen], expected)}


def longest_lives(lives: Lives) -> Floats:
    """Return the oldest age that a life of each cell is known to have reached."""
    oldest = np.zeros(lives.n_cells)
    np.maximum.at(oldest, lives.cell, lives.low)
    return oldest


def unknown_failures(lives: Lives) -> Floats:
    """Return the failures of unknown mechanism in each cell."""
    mine = lives.mechanism == -2
    return sums(lives.cell[mine], lives.count[mine], lives.n_cells)
