"""The track record: forecasts of earlier months, made once, and scored at every load."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.late_records import LOOK_BACK, MOST_MONTHS
from etl.build.statistics import number_or_gap
from etl.build.track.chances import chance_scores
from etl.build.track.flags import flag_scores, track_flags
from etl.build.track.origin import forecast_origin
from etl.build.track.scores import count_scores
from etl.build.track.store import is_kept, keep, read_kept
from etl.build.track.tables import (
    FLAG_COLUMNS,
    FORECAST_COLUMNS,
    SCORE_COLUMNS,
    empty_table,
    read_scored,
    track_forecasts,
)
from etl.build.track.view import AS_KNOWN, EventFile, Origin, known_then, origins_of
from etl.life.reporting_delay import recorded_share
from etl.load.archive import registered
from etl.load.mapping import TypingOptions
from etl.load.warehouse import run_sql
from etl.settings import Settings

Floats = NDArray[np.float64]


def make_track_record(
    con: duckdb.DuckDBPyConnection, groups: Mapping[int, TypingOptions], store: Path,
    as_of: dt.date, settings: Settings, say: Callable[[str], None],
) -> None:
    """Forecast from every earlier month end whose forecast is not kept yet.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds the layers ``raw`` and ``clean``.
    groups : mapping of int to TypingOptions
        From `etl.load.raw.load_raw`.
    store : Path
        Locked by the caller.
    as_of : date
        Data date.
    settings : Settings
    say : callable
    """
    delays = None
    missing = [origin for origin in _origins(con, store, as_of, settings)
               if not is_kept(con, store, origin, settings)]
    for number, origin in enumerate(missing, start=1):
        if delays is None:
            delays = _delays(con, store, as_of, settings)
        say(f"forecasting from {origin.on:%B %Y} ({origin.basis}), {number} of {len(missing)}")
        with known_then(con, groups, origin, settings.degraded_is_suspension):
            tables = forecast_origin(con, origin, settings, _share(delays, origin))
        keep(con, store, origin, settings, tables)


def add_track_record(
    con: duckdb.DuckDBPyConnection, store: Path, as_of: dt.date, settings: Settings
) -> None:
    """Register the frames of the track record, without rows when none was ever made.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds the layers ``raw``, ``clean`` and ``lives``.
    store : Path
    as_of : date
        Data date.
    settings : Settings
    """
    origins = read_kept(con, store, _origins(con, store, as_of, settings), settings)
    frames = {"forecasts": empty_table(FORECAST_COLUMNS), "scores": empty_table(SCORE_COLUMNS),
              "flags": empty_table(FLAG_COLUMNS)}
    if origins:
        _count_outcomes(con, origins, as_of, settings)
        scored = read_scored(con)
        flags = track_flags(con)
        scores = [count_scores(scored.frame, settings.confidence, settings.seed),
                  chance_scores(con, settings.confidence, settings.seed),
                  flag_scores(flags, settings.confidence, settings.seed)]
        frames = {"forecasts": track_forecasts(scored, settings.confidence),
                  "scores": _numbers(pd.concat([empty_table(SCORE_COLUMNS), *scores])),
                  "flags": flags}
    for name, frame in frames.items():
        con.register(f"track_{name}_frame", frame)


def recorded_now(
    con: duckdb.DuckDBPyConnection, store: Path, as_of: dt.date, settings: Settings
) -> Floats:
    """Return what share of a month's failures is on record so many months later, as known now.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds the layers ``raw`` and ``clean``.
    store : Path
    as_of : date
        Data date.
    settings : Settings

    Returns
    -------
    ndarray, shape (k,)
        From `etl.life.reporting_delay.recorded_share`: ``[1.0]`` where logs come in time, or were
        never loaded as the months went by, so that nothing is known of delays.
    """
    return _share(_delays(con, store, as_of, settings), Origin(as_of, AS_KNOWN, ()))


def _delays(
    con: duckdb.DuckDBPyConnection, store: Path, as_of: dt.date, settings: Settings
) -> pd.DataFrame:
    """Return month and delay of every removal of the months whose logs came as they went by."""
    months = settings.track_months + LOOK_BACK
    known = [origin.on for origin in _origins(con, store, as_of, settings, months)
             if origin.basis == AS_KNOWN]
    run_sql(con, "fit/track/15_track_delays", known_months=known,
            within_days=settings.track_loaded_within_days)
    return con.execute("select month_number, delay_months, n from fit.track_delays "
                       "order by month_number, delay_months").df()


def _share(delays: pd.DataFrame, origin: Origin) -> Floats:
    """Return the share of failures on record so many months later, by what was known then."""
    now = 12 * origin.on.year + origin.on.month
    watched = now - delays["month_number"]
    seen = delays[(watched >= delays["delay_months"]) & (watched < LOOK_BACK)]
    n = seen["n"].to_numpy(np.int64)
    return recorded_share(seen["delay_months"].to_numpy(np.int64).repeat(n),
                          (now - seen["month_number"]).to_numpy(np.int64).repeat(n),
                          most=MOST_MONTHS)


def _origins(
    con: duckdb.DuckDBPyConnection, store: Path, as_of: dt.date, settings: Settings,
    n_months: int | None = None,
) -> list[Origin]:
    """Return the month ends to look back to, and the files that each may see."""
    mapping = {item.load_id: item.mapping_sha256 for item in registered(store)}
    run_sql(con, "fit/track/10_track_loads", as_of=as_of)
    rows = con.execute("select load_id, known_on, loaded_on, sha256, last_event_on "
                       "from fit.track_loads order by load_id").fetchall()
    files = [EventFile(load_id, known, loaded, sha256, last, mapping.get(load_id))
             for load_id, known, loaded, sha256, last in rows]
    return origins_of(files, as_of, n_months or settings.track_months,
                      settings.track_loaded_within_days)


def _count_outcomes(
    con: duckdb.DuckDBPyConnection, origins: list[Origin], as_of: dt.date, settings: Settings
) -> None:
    """Count what came after each month end, by today's tables."""
    values = {
        "as_of": as_of, "within_days": settings.track_loaded_within_days,
        "known_months": [origin.on for origin in origins if origin.basis == AS_KNOWN],
        "degraded_is_suspension": sorted(settings.degraded_is_suspension),
    }
    for step in ("20_track_failures", "30_track_late", "40_track_place_outcomes",
                 "50_track_outcomes"):
        run_sql(con, f"fit/track/{step}", **values)


def _numbers(scores: pd.DataFrame) -> pd.DataFrame:
    """Leave empty, not NaN, what cannot be said."""
    scores = scores.reset_index(drop=True)
    for name in ("value", "lower", "upper", "expected"):
        scores[name] = number_or_gap(scores[name].to_numpy("float64"))
    return scores
