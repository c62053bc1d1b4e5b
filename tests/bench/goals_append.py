"""What an append to a large store could save, and what whole exports month by month cost."""

from __future__ import annotations

import datetime as dt
import statistics
import tempfile
from collections.abc import Collection, Iterator
from pathlib import Path

import pandas as pd

from etl.load import archive, typing
from etl.load.publish import publish
from etl.load.raw import load_raw
from etl.load.warehouse import connect, run_sql
from tests.bench.bench_lives import AS_OF, make_fleet, measure
from tests.bench.goal_rows import Goal

RUNS = 3
ROWS = {"log_rows": "service_point, log, source_file, source_row, happened_on, cells, fate",
        "superseded": "log, source_file, source_row, cause"}
DAYS = {"installations": "installed_on", "replacements": "removed_on"}


def append(full: bool) -> Iterator[Goal]:
    """Files to lives of some of the places: no append can cost less than what it touches alone."""
    n_stays = 1_000_000 if full else 100_000
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        logs = folder / "logs"
        logs.mkdir()
        make_fleet(logs, n_stays)
        places = _read(logs, "service_points")["service_point"]
        month = _changing(logs)
        every = _store(logs, folder / "all")
        few = _store(_only(logs, set(places[::1000]), folder / "few"), folder / "few store")
        some = _store(_only(logs, month, folder / "some"), folder / "some store")
        took = [[measure(lambda store=store: _to_lives(store))[1] for store in (every, few, some)]
                for _ in range(RUNS + 1)][1:]  # the first one warms up
    for what, at, most in (("a thousandth of the places", 1, 0.06),
                           ("the places whose hose changes within a month", 2, None)):
        yield Goal(f"files to lives of {what}, part of that of all, {n_stays:,} stays",
                   statistics.median(run[at] / run[0] for run in took), most)
    yield Goal("  those places, part of all", len(month) / len(places))
    yield Goal("  files to lives of all places, processor seconds",
               statistics.median(run[0] for run in took))


def exports(full: bool) -> Iterator[Goal]:
    """Stores of sites that export their whole log every month."""
    n_stays, n_months = 100_000 if full else 30_000, 12
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        source = folder / "source"
        source.mkdir()
        make_fleet(source, n_stays)
        one, all_months = (_store(_monthly(source, folder / f"logs {n}", n), folder / f"store {n}")
                           for n in (1, n_months))
        took = [[measure(lambda store=store: _to_rows(store))[1] for store in (one, all_months)]
                for _ in range(RUNS + 1)][1:]
    yield Goal(f"files to published rows of {n_months} whole exports, x the last alone",
               statistics.median(run[1] / run[0] for run in took), n_months / 2)


def _read(logs: Path, name: str) -> pd.DataFrame:
    """Return all rows of a log, every cell as text."""
    return pd.concat([pd.read_csv(file, dtype=str, keep_default_na=False)
                      for file in sorted(logs.glob(f"{name}*.csv"))], ignore_index=True)


def _changing(logs: Path) -> set[str]:
    """Return the places with a removal in one month in which every place has hoses."""
    removed = _read(logs, "replacements")
    return set(removed["service_point"][removed["removed_on"].str.startswith("2012-06")])


def _only(logs: Path, places: Collection[str], folder: Path) -> Path:
    """Write the rows of some places into files of the same names."""
    folder.mkdir()
    for file in logs.glob("*.csv"):
        rows = pd.read_csv(file, dtype=str, keep_default_na=False)
        rows[rows["service_point"].isin(list(places))].to_csv(folder / file.name, index=False)
    return folder


def _monthly(logs: Path, folder: Path, n_months: int) -> Path:
    """Write the logs as exported whole at the end of each of the last months."""
    folder.mkdir()
    _read(logs, "service_points").to_csv(folder / "service_points.csv", index=False)
    for name, day in DAYS.items():
        rows = _read(logs, name).drop_duplicates(["service_point", day, "hose_id"])
        for end in pd.date_range(end=AS_OF, periods=n_months, freq="ME"):
            until = end.date().isoformat()
            rows[rows[day] <= until].to_csv(folder / f"{name}_{until}.csv", index=False)
    return folder


def _store(logs: Path, store: Path) -> Path:
    """Return a store whose archive holds the logs."""
    store.mkdir()
    archive.add(store, logs, dt.date(2025, 1, 1))
    return store


def _to_lives(store: Path) -> None:
    with connect() as con:
        typing.build_lives(con, typing.build_clean(con, load_raw(con, store), AS_OF), ())


def _to_rows(store: Path) -> None:
    with connect() as con:
        typing.build_lives(con, typing.build_clean(con, load_raw(con, store), AS_OF), ())
        run_sql(con, "results/10_log_rows")
        run_sql(con, "results/12_superseded")
        publish(con, store, ROWS, 1)
