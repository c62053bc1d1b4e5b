"""Forecasts of earlier months, kept in the store beside the editions and never made again."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

import duckdb
import pandas as pd

from etl import __version__
from etl.build.track.view import Origin
from etl.load.kept import sync
from etl.settings import Settings

FOLDER = "track"
TABLES = ("counts", "places")
MATTERS = ("confidence", "seed", "flag_false_share", "few_failures", "degraded_is_suspension",
           "track_draws", "track_loaded_within_days")
"""Settings that an earlier forecast depends on."""


def made_with(origin: Origin, settings: Settings) -> str:
    """Return a sign of everything that a kept forecast rests on.

    Parameters
    ----------
    origin : Origin
    settings : Settings

    Returns
    -------
    str
        Differs when the software, a setting, the files that could be seen or the mappings they are
        read by differ.
    """
    chosen = asdict(settings)
    rests_on = {
        "software": __version__, "basis": origin.basis,
        "settings": {name: chosen[name] for name in MATTERS},
        "files": sorted((file.sha256, file.mapping_sha256 or "") for file in origin.files),
    }
    return hashlib.sha256(json.dumps(rests_on, sort_keys=True).encode()).hexdigest()


def is_kept(
    con: duckdb.DuckDBPyConnection, store: Path, origin: Origin, settings: Settings
) -> bool:
    """Tell whether the forecast of an origin is in the store, whole and as it would be made now."""
    note = _file(store, origin, "sign")
    if not note.is_file() or _words(note)[:1] != [made_with(origin, settings)]:
        return False
    return _is_empty(note) or all(_is_whole(con, _file(store, origin, name)) for name in TABLES)


def _is_whole(con: duckdb.DuckDBPyConnection, file: Path) -> bool:
    """Tell whether a kept table can be read; a damaged one is made again, not complained of."""
    try:
        con.execute(f"select count(*) from parquet_metadata('{_quoted(file)}')").fetchall()
    except duckdb.Error:
        return False
    return True


def keep(
    con: duckdb.DuckDBPyConnection, store: Path, origin: Origin, settings: Settings,
    tables: tuple[pd.DataFrame, pd.DataFrame] | None,
) -> None:
    """Write the forecast of an origin; the sign that makes it count is written last.

    Parameters
    ----------
    con : DuckDBPyConnection
    store : Path
        Locked by the caller.
    origin : Origin
    settings : Settings
    tables : tuple of DataFrame or None
        From `etl.build.track.origin.forecast_origin`; None is kept too, so that a month with too
        few failures is not tried again at every load.
    """
    note = _file(store, origin, "sign")
    note.parent.mkdir(exist_ok=True)
    note.unlink(missing_ok=True)
    for name, frame in zip(TABLES, tables or (), strict=tables is not None):
        aside = _file(store, origin, name).with_suffix(".tmp")
        con.register("track_frame", frame)
        con.execute("copy (select * replace (as_of::date as as_of) from track_frame) "
                    f"to '{_quoted(aside)}' (format parquet)")
        con.unregister("track_frame")
        sync(aside)
        os.replace(aside, _file(store, origin, name))
    state = "forecast" if tables else "empty"
    aside = note.with_suffix(".tmp")
    aside.write_text(f"{made_with(origin, settings)} {state}\n", encoding="ascii")
    sync(aside)
    os.replace(aside, note)


def read_kept(
    con: duckdb.DuckDBPyConnection, store: Path, origins: Sequence[Origin], settings: Settings
) -> list[Origin]:
    """Make ``fit.track_counts`` and ``fit.track_places`` of the kept forecasts.

    Parameters
    ----------
    con : DuckDBPyConnection
    store : Path
    origins : sequence of Origin
    settings : Settings

    Returns
    -------
    list of Origin
        Those with a kept forecast; the tables are made only when there are some.
    """
    found = [origin for origin in origins if is_kept(con, store, origin, settings)
             and not _is_empty(_file(store, origin, "sign"))]
    for name in TABLES if found else ():
        files = ", ".join(f"'{_quoted(_file(store, origin, name))}'" for origin in found)
        con.execute(f"create or replace table fit.track_{name} as "
                    f"select * from read_parquet([{files}]) order by as_of")
    return found


def _is_empty(note: Path) -> bool:
    return _words(note)[-1:] == ["empty"]


def _words(note: Path) -> list[str]:
    return note.read_text(encoding="ascii", errors="replace").split()


def _file(store: Path, origin: Origin, name: str) -> Path:
    ending = "sign" if name == "sign" else "parquet"
    return store / FOLDER / f"{origin.on.isoformat()}-{name}.{ending}"


def _quoted(path: Path) -> str:
    return str(path).replace("'", "''")
