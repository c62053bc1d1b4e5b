"""The forecast of one earlier month, by our way and by its rivals, as tables to be kept."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.forecast import scope_keys
from etl.build.late_records import late_forecasts, watched_lives
from etl.build.lives import Lives, read_lives
from etl.build.rates import seen_and_expected
from etl.build.removals import Removal, removal_laws
from etl.build.statistics import number_or_gap, pooling_data
from etl.build.strata import failures_of, strata_of
from etl.build.teardown_table import add_teardown_evidence
from etl.build.track.laws import Present, constant_rates, plug_in_forecasts
from etl.build.track.view import Origin
from etl.decide.cost import change_cost
from etl.life.count_forecasts import mixture_counts
from etl.life.counts import scattered
from etl.life.frailty import PlaceRates, place_rates, rate_draws
from etl.life.pooling.pool import pool_strata
from etl.life.renewal import DAYS_A_MONTH, PlaceForecast
from etl.life.reporting_delay import IN_TIME
from etl.load.warehouse import run_sql
from etl.settings import Settings

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]

OURS, PLUG_IN, LAST_YEAR, CONSTANT = "forecast", "plug-in", "last year", "constant rate"
METHODS = (OURS, PLUG_IN, LAST_YEAR, CONSTANT)
HORIZONS = (1, 3, 6, 12)
"""Months that a forecast window spans."""
AT = np.array(HORIZONS) - 1
CHANCE_DAYS = {"90_days": 90.0, "12_months": 12.0 * DAYS_A_MONTH}
"""Spans of the chances that are kept."""
FIT_STEPS = ("fit/10_cells", "fit/12_inferred_mechanisms", "fit/15_counted_lives",
             "fit/20_mechanisms", "fit/30_places", "fit/38_coded_lives", "fit/40_lives",
             "fit/42_removals", "fit/50_costs", "fit/track/20_track_failures")

@dataclass(frozen=True)
class Scopes:
    """Groups of places, all scopes one after the other.

    Attributes
    ----------
    scope, name : tuple of str
    codes : tuple of ndarray of int, each shape (n_places,)
        Group of each place in one scope; -1 where it has none.
    """

    scope: tuple[str, ...]
    name: tuple[str, ...]
    codes: tuple[Ints, ...]

    def add(self, values: Floats) -> Floats:
        """Add up the values of places, shape (n_places, ...), in their groups."""
        total = np.zeros((len(self.name), *values.shape[1:]))
        for code in self.codes:
            mine = code >= 0
            np.add.at(total, code[mine], values[mine])
        return total


def scopes_of(places: pd.DataFrame, has_hose: NDArray[np.bool_]) -> Scopes:
    """Group the places with a hose in service: fleet, site, line, class, part."""
    scope: list[str] = []
    name: list[str] = []
    codes = []
    keys_of = {**scope_keys(places), "part": places["part_number"]}
    del keys_of["construction"]  # its parts are scored
    for kind, keys in keys_of.items():
        code, names = pd.factorize(keys.where(has_hose), sort=True)
        codes.append(np.where(code >= 0, code + len(name), -1).astype(np.int64))
        scope += [kind] * len(names)
        name += [str(item) for item in names]
    return Scopes(tuple(scope), tuple(name), tuple(codes))


def forecast_origin(
    con: duckdb.DuckDBPyConnection, origin: Origin, settings: Settings, share: Floats = IN_TIME
) -> tuple[pd.DataFrame, pd.DataFrame] | None:
    """Forecast from an earlier month end, with the tables as they were then.

    Parameters
    ----------
    con : DuckDBPyConnection
        Inside `etl.build.track.view.known_then`.
    origin : Origin
    settings : Settings
    share : ndarray, shape (k,)
        Of the failures of a month on record 0, 1, ... months later, as known then.

    Returns
    -------
    counts, places : DataFrame
        Whole distributions of the failures of each group within 1, 3, 6 and 12 months by every
        method; chances, flags and costs of each place with a hose. None when too few failures
        were known to forecast from.
    """
    add_teardown_evidence(con)
    for step in FIT_STEPS:
        run_sql(con, step, as_of=origin.on,
                degraded_is_suspension=sorted(settings.degraded_is_suspension))
    lives = read_lives(con)
    frame = con.execute("select * from fit.places order by place").df()
    present = Present(frame["cell"].fillna(-1).to_numpy(np.int64),
                      frame["age_days"].fillna(0.0).to_numpy(np.float64))
    n_failures = float(lives.count[lives.is_failure].sum())
    if n_failures < settings.few_failures or not (present.cell >= 0).any():
        return None
    removals = removal_laws(con, lives, share)
    ours = _ours(lives, present, list(frame["service_point"]), removals, settings, share)
    made = _forecasts(con, lives, present, frame, ours, removals)
    counts = pd.concat([_kept(scopes_of(frame, present.cell >= 0), method, forecast)
                        for method, forecast in made.items()], ignore_index=True)
    # Drawn once and kept: the place of an outcome within its step never changes afterwards.
    counts["uniform"] = np.random.default_rng(
        [settings.seed, origin.on.toordinal()]).uniform(size=len(counts))
    places = _kept_places(frame, ours, made, _prices(con, frame))[present.cell >= 0]
    for table in (counts, places):
        table.insert(0, "as_of", pd.Timestamp(origin.on))
        table.insert(1, "basis", origin.basis)
    return counts, places.reset_index(drop=True)


@dataclass(frozen=True)
class Ours:
    """What our way of forecasting rests on.

    Attributes
    ----------
    seen, expected : ndarray, shape (n_places,)
        Failures, and failures expected of like places.
    rates : PlaceRates
    blocks : iterator of PlaceForecast
    """

    seen: Floats
    expected: Floats
    rates: PlaceRates
    blocks: Iterator[PlaceForecast]


def _ours(
    lives: Lives, present: Present, names: Sequence[str], removals: list[Removal],
    settings: Settings, share: Floats,
) -> Ours:
    """Estimate the lives and the places' own rates with fewer draws than an edition takes."""
    lives = watched_lives(lives, present, share)
    strata = strata_of(lives)
    draws = pool_strata(pooling_data(lives, strata, failures_of(lives, strata)),
                        n_draws=settings.track_draws, seed=settings.seed)
    u, m = draws.log_shape.astype(np.float64), draws.log_life.astype(np.float64)
    seen, expected = seen_and_expected(lives, strata, u, m)
    rates = place_rates(seen, expected, false_share=settings.flag_false_share,
                        confidence=settings.confidence)
    z = rate_draws(seen, expected, rates.concentration, u.shape[0], settings.seed + 1, names)
    blocks = late_forecasts(draws, strata, present, z, removals, share)
    return Ours(seen, expected, rates, (block for block, _ in blocks))


@dataclass(frozen=True)
class Made:
    """The forecasts of all places by one method.

    Attributes
    ----------
    mean, variance : ndarray, shape (n_places, n_draws, 4)
        Of the failures within the spans of `HORIZONS`; one draw where nothing is drawn.
    chance : ndarray, shape (n_places, 2)
        Of at least one failure within the spans of `CHANCE_DAYS`.
    """

    mean: Singles
    variance: Singles
    chance: Floats


def _forecasts(
    con: duckdb.DuckDBPyConnection, lives: Lives, present: Present, frame: pd.DataFrame, ours: Ours,
    removals: list[Removal],
) -> dict[str, Made]:
    """Return the forecasts of every method."""
    daily = constant_rates(lives)
    has_hose = present.cell >= 0
    constant = np.where(has_hose, daily[present.cell], 0.0)
    last_year = np.where(has_hose, _last_year(con, len(frame)) / (12.0 * DAYS_A_MONTH), 0.0)
    return {
        OURS: _made(ours.blocks, len(frame)),
        PLUG_IN: _made(plug_in_forecasts(lives, daily, present, removals), len(frame)),
        LAST_YEAR: _steady(last_year), CONSTANT: _steady(constant),
    }


def _made(blocks: Iterator[PlaceForecast], n_places: int) -> Made:
    """Gather the forecasts of blocks of places; places without a hose are left at 0."""
    mean = variance = np.zeros((n_places, 0, len(HORIZONS)), np.float32)
    chance = np.zeros((n_places, len(CHANCE_DAYS)))
    for block in blocks:
        if not mean.shape[1]:
            mean, variance = (
                np.zeros((n_places, block.expected.shape[1], len(HORIZONS)), np.float32)
                for _ in range(2))
        mean[block.places] = block.expected[:, :, AT]
        variance[block.places] = block.variance[:, :, AT]
        for at, values in enumerate((block.chance_90_days, block.chance_12_months)):
            chance[block.places, at] = values.mean(axis=1, dtype=np.float64)
    return Made(mean, scattered(mean, variance), chance)


def _steady(daily_rate: Floats) -> Made:
    """Return the forecasts of failures that come at a constant rate: Poisson counts."""
    spans = np.array(HORIZONS) * DAYS_A_MONTH
    mean = (daily_rate[:, None, None] * spans).astype(np.float32)
    return Made(mean, mean, -np.expm1(-daily_rate[:, None] * np.array([*CHANCE_DAYS.values()])))


def _kept(scopes: Scopes, method: str, made: Made) -> pd.DataFrame:
    """Return the whole distribution of each group and span, one row each."""
    mean, variance = (np.moveaxis(scopes.add(part.astype(np.float64)), 2, 1)
                      for part in (made.mean, made.variance))
    n_draws = mean.shape[2]
    counts = mixture_counts(mean.reshape(-1, n_draws), variance.reshape(-1, n_draws))
    return pd.DataFrame({
        "scope": np.repeat(scopes.scope, len(HORIZONS)),
        "scope_name": np.repeat(scopes.name, len(HORIZONS)),
        "horizon_months": np.tile(HORIZONS, len(scopes.name)), "method": method,
        "mean": mean.mean(axis=2).ravel(), "first": counts.first,
        "below": np.split(counts.below.astype(np.float32), counts.start[1:-1]),
    })


def _kept_places(
    frame: pd.DataFrame, ours: Ours, made: dict[str, Made], price: Floats
) -> pd.DataFrame:
    """Return what is kept of each place."""
    places = pd.DataFrame({
        "service_point": frame["service_point"], "part_number": frame["part_number"],
        "price": number_or_gap(price), "expected_failures": made[OURS].mean[:, :, -1].mean(axis=1),
        "observed_failures": ours.seen, "failures_expected_so_far": ours.expected,
        "relative_rate": ours.rates.rate, "is_failure_prone": ours.rates.is_prone,
    })
    for method, forecast in made.items():
        for at, span in enumerate(CHANCE_DAYS):
            places[chance_column(method, span)] = forecast.chance[:, at]
    return places


def chance_column(method: str, span: str) -> str:
    """Return the column that keeps a method's chances.

    Examples
    --------
    >>> chance_column("plug-in", "90_days")
    'plug_in_90_days'
    """
    return f"{method.replace(' ', '_').replace('-', '_')}_{span}"


def _last_year(con: duckdb.DuckDBPyConnection, n_places: int) -> Floats:
    """Return the failures at each place in the twelve months before the origin."""
    found = con.execute(
        "select p.place, count(*) as n from fit.track_failures as f "
        "join fit.places as p using (service_point), clean.data_date as d "
        "where f.removed_on > d.as_of - interval 12 months group by p.place order by p.place"
    ).fetchnumpy()
    counted = np.zeros(n_places)
    counted[np.asarray(found["place"], np.int64)] = found["n"]
    return counted


def _prices(con: duckdb.DuckDBPyConnection, frame: pd.DataFrame) -> Floats:
    """Return what a failure was known to cost at each place; NaN where nothing was."""
    recorded = con.execute("select place, cost from fit.costs where not is_planned "
                           "order by place, cost").fetchnumpy()
    return change_cost(
        np.asarray(recorded["cost"], np.float64), np.asarray(recorded["place"], np.int64),
        pd.Categorical(frame["application_class"]).codes.astype(np.int64),
        frame["register_cost"].to_numpy(np.float64, na_value=np.nan),
    ).cost
