"""What an append to a large store costs, and what whole exports month by month cost."""

from __future__ import annotations

import datetime as dt
import statistics
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pandas as pd

from etl.load import archive, typing
from etl.load.append import build_appended
from etl.load.base import FILE, sign_of, write_base
from etl.load.publish import publish
from etl.load.raw import load_raw
from etl.load.warehouse import connect, run_sql
from tests.bench.bench_lives import AS_OF, make_fleet, measure
from tests.bench.goal_rows import Goal

RUNS = 3
APPENDS = 7
"""An append is so short that whatever else the machine does shows: the middle one of so many."""
ROWS = {"log_rows": "service_point, log, source_file, source_row, happened_on, cells, fate",
        "superseded": "log, source_file, source_row, cause"}
CHANGED = f"""
select date '{AS_OF}' - 5 as removed_on, service_point, hose_id, 'failed' as reason,
    construction
from lives.stays
where removed_on is null and installed_on < date '{AS_OF}' - 30 and is_tagged
    and service_point in (select service_point from clean.points where retired_on is null)
order by md5(service_point)
limit ?
"""
"""Places whose hose is changed in the last month."""
DAYS = {"installations": "installed_on", "replacements": "removed_on"}


def append(full: bool) -> Iterator[Goal]:
    """Months whose rows touch a thousandth of the places, put beside what is kept.

    Nearly all of that is the planning of statements, so that a larger store pays less for it.
    """
    for n_stays in (1_000_000, 3_000_000) if full else (100_000, 300_000):
        yield from _appended_to(n_stays)


def _appended_to(n_stays: int) -> Iterator[Goal]:
    """Put a month beside a store of so many stays."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        logs = folder / "logs"
        logs.mkdir()
        make_fleet(logs, n_stays)
        store = _store(logs, folder / "store")
        took, size = [], 0
        with connect() as con:
            typing.build_lives(con, typing.build_clean(con, load_raw(con, store), AS_OF), ())
            keeps = measure(lambda: write_base(con, store, sign_of(())))[1]
            size = (store / FILE).stat().st_size
            month = con.execute(CHANGED, [n_stays // 10_000]).df()
        archive.add(store, _month(month, folder / "month"), dt.date(2025, 2, 1))
        for _ in range(APPENDS + 1):
            took.append([measure(lambda way=way: way(store))[1] for way in (_to_lives, _appended)])
    yield Goal(f"append touching a thousandth of {n_stays:,} stays' places, part of files to lives",
               statistics.median(each[1] / each[0] for each in took[1:]), 0.06)
    yield Goal("  files to lives of all, processor seconds",
               statistics.median(each[0] for each in took[1:]))
    yield Goal("  append, processor seconds", statistics.median(each[1] for each in took[1:]))
    yield Goal("  keeping the rows once, processor seconds", keeps)
    yield Goal("  size of what is kept, MB", size / 1e6)


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


def _month(changed: pd.DataFrame, folder: Path) -> Path:
    """Write the log of a month in which the hoses of some places were changed."""
    folder.mkdir()
    changed[["removed_on", "service_point", "hose_id", "reason"]].to_csv(
        folder / "replacements_month.csv", index=False)
    changed[["removed_on", "service_point", "construction"]].rename(
        columns={"removed_on": "installed_on"}).to_csv(
        folder / "installations_month.csv", index=False)
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


def _appended(store: Path) -> None:
    with connect() as con:
        if build_appended(con, store, AS_OF, ()) is None:
            raise SystemExit("nothing was put beside what is kept: the figure would be none.")


def _to_rows(store: Path) -> None:
    with connect() as con:
        typing.build_lives(con, typing.build_clean(con, load_raw(con, store), AS_OF), ())
        run_sql(con, "results/10_log_rows")
        run_sql(con, "results/12_superseded")
        publish(con, store, ROWS, 1)
