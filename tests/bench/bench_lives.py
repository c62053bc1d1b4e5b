"""How long the logs take to become lives, in units of DuckDB's plain all-text read of the files.

Run: ``python -m tests.bench.bench_lives [stays] [repeats]``. Makes an invented fleet of about that
many stays (default 100,000), loads it in the same process as the plain read, and prints for each
step the median ratio of wall and of processor time. Written for the invented dirt of real logs:
same-day exchanges, missing removals, lost tags, repeats, corrections, unreadable cells.
"""

from __future__ import annotations

import csv
import datetime as dt
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from multiprocessing import Process
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd

from etl.load import archive, typing
from etl.load.mapping import TypingOptions
from etl.load.raw import load_raw
from etl.load.warehouse import connect
from tests.sql.tiny import faulty

STAYS_PER_POINT = 10
FIRST_DAY = dt.date(2005, 1, 1)
AS_OF = dt.date(2021, 6, 30)
REASONS = np.array(
    ["failed", "found_failed", "planned", "removed_degraded", "unknown", "relocated"])


def make_fleet(folder: Path, n_stays: int, seed: int = 1) -> None:
    """Write the invented logs of about `n_stays` stays."""
    rng = np.random.default_rng(seed)
    n_points = max(1, n_stays // STAYS_PER_POINT)
    life = np.ceil(400 * rng.weibull(1.6, (n_points, STAYS_PER_POINT))).astype(int)
    gap = np.where(rng.random(life.shape) < 0.7, 0, rng.integers(1, 10, life.shape))
    start = rng.integers(0, 1500, (n_points, 1)) + np.cumsum(life + gap, axis=1) - life
    point = np.repeat(np.arange(n_points), STAYS_PER_POINT)
    frame = pd.DataFrame({
        "service_point": [f"SP-{number:07d}" for number in point],
        "installed": start.ravel(), "removed": (start + life).ravel(),
        "hose_id": [f"H{number:08d}" for number in range(point.size)],
    })
    last = frame.index % STAYS_PER_POINT == STAYS_PER_POINT - 1
    size = len(frame)
    installed = pd.DataFrame({
        "installed_on": as_days(frame["installed"]), "service_point": frame["service_point"],
        "hose_id": frame["hose_id"].where(rng.random(size) > 0.05, ""),
        "construction": np.array(["C1", "C2", "C3"])[rng.integers(0, 3, size)],
        "work_order": [f"WO{number}" for number in range(size)],
    })
    removed = pd.DataFrame({
        "removed_on": as_days(frame["removed"]), "service_point": frame["service_point"],
        "reason": rng.choice(REASONS, size, p=[0.35, 0.15, 0.3, 0.1, 0.07, 0.03]),
        "hose_id": frame["hose_id"].where(rng.random(size) > 0.05, ""),
        "part_cost": rng.uniform(50, 900, size).round(2),
        "downtime_h": rng.integers(0, 40, size) / 4,
        "work_order": [f"WR{number}" for number in range(size)],
    })[~last & (rng.random(size) > 0.01)]
    seen = as_days(frame["removed"] - 20)[removed.index]
    is_seen = (removed["reason"] == "found_failed") & (frame.loc[removed.index, "removed"]
                                                      > frame.loc[removed.index, "installed"] + 20)
    removed["last_seen_good_on"] = seen.where(is_seen, "")
    pd.DataFrame({
        "service_point": [f"SP-{number:07d}" for number in range(n_points)],
        "application_class": [f"class {number % 12}" for number in range(n_points)],
        "records_from": np.where(np.arange(n_points) % 5 == 0, "2008-01-01", ""),
        "run_hours_per_year": np.where(np.arange(n_points) % 3 == 0, "6000", ""),
    }).to_csv(folder / "service_points.csv", index=False)
    write_log(folder, "installations", installed, "installed_on", rng)
    write_log(folder, "replacements", removed, "removed_on", rng)


def as_days(number: pd.Series) -> pd.Series:
    """Return day numbers as ISO text."""
    days = np.datetime64(FIRST_DAY) + number.to_numpy().astype("timedelta64[D]")
    return pd.Series(np.datetime_as_string(days), index=number.index)


def write_log(folder: Path, name: str, rows: pd.DataFrame, day: str,
              rng: np.random.Generator) -> None:
    """Write a log in two files: the second repeats and corrects some rows of the first."""
    rows = rows.copy()
    bad = rng.random(len(rows)) < 0.004
    rows.loc[bad, day] = "not known"
    half = len(rows) // 2
    again = rows.iloc[:half].sample(frac=0.04, random_state=rng)
    again.loc[again.index[::2], "work_order"] += "a"
    rows.iloc[:half].to_csv(folder / f"{name}_2015-01-01.csv", index=False)
    pd.concat([rows.iloc[half:], again]).to_csv(folder / f"{name}_2025-01-01.csv", index=False)


def measure(work: Callable[[], object]) -> tuple[float, float]:
    """Return wall and processor seconds of `work`."""
    wall, processor = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - wall, time.process_time() - processor


def plain(folder: Path) -> None:
    """Read every file as text, as DuckDB does it by itself."""
    with duckdb.connect() as con:
        for number, file in enumerate(sorted(folder.glob("*.csv"))):
            con.execute(f"create table t{number} as select * from read_csv(?, all_varchar = true)",
                        [str(file)])


def one_run(folder: Path, store: Path) -> dict[str, tuple[float, float]]:
    """Return the times of the plain read and of every step."""
    took = {"plain read": measure(lambda: plain(folder))}
    con = connect()
    groups: dict[int, TypingOptions] = {}
    took["raw"] = measure(lambda: groups.update(load_raw(con, store)))
    took["clean"] = measure(lambda: typing.build_clean(con, groups, AS_OF))
    took["lives"] = measure(lambda: typing.build_lives(con, AS_OF))
    con.close()
    return took


def limited_run(folder: Path, n_stays: int, megabytes: int) -> str:
    """Make the lives of a fleet in `folder` under a limit of memory; return their number and hash.

    The fleet is made by the first call.
    """
    logs, store = folder / "logs", folder / "store"
    if not store.exists():
        _make_store(logs, store, n_stays)
    with connect(memory_bytes=megabytes * 1_000_000, temp=folder / "spill") as con:
        typing.build_lives(con, typing.build_clean(con, load_raw(con, store), AS_OF), ())
        # Cell by cell: the hash of a row as one value also tells how the row is held in memory.
        return str(con.execute("select count(*), sum(hash(*columns(*))::hugeint) from lives.lives"
                               ).fetchall())


def _make_store(logs: Path, store: Path, n_stays: int) -> None:
    """Write a fleet and put it in the archive of a new store.

    A process of its own writes it: it takes memory that would count as that of the load.
    """
    logs.mkdir()
    store.mkdir()
    maker = Process(target=make_fleet, args=(logs, n_stays))
    maker.start()
    maker.join()
    archive.add(store, logs)


def logs_refused(n_stays: int) -> tuple[int, int, int]:
    """Return rows not accounted for once, refused rows of wrong number, and refused rows."""
    with tempfile.TemporaryDirectory() as name, connect() as con:
        folder, store = Path(name) / "logs", Path(name) / "store"
        folder.mkdir()
        store.mkdir()
        make_fleet(folder, n_stays)
        archive.add(store, folder)
        typing.build_clean(con, load_raw(con, store), AS_OF)
        n_lost = len(faulty(con, "clean_balance"))
        found = set(con.execute("select source_file, source_row from clean.refused "
                                "where reason = 'is not a date'").fetchall())
        true = {(file.name, number) for file in folder.glob("*_20*.csv")
                for number, row in enumerate(csv.reader(file.open(encoding="utf-8")), start=1)
                if row[0] == "not known"}
    return n_lost, len(found ^ true), len(true)


def paired_runs(n_stays: int, repeats: int) -> list[dict[str, tuple[float, float]]]:
    """Return wall and processor seconds of the plain read and of every step, each run.

    One run before them does not count: it pays for memory that nobody had touched yet, which on a
    virtual machine is dear, and the plain read needs a fifth of it.
    """
    with tempfile.TemporaryDirectory() as name:
        folder, store = Path(name) / "logs", Path(name) / "store"
        _make_store(folder, store, n_stays)
        return [one_run(folder, store) for _ in range(repeats + 1)][1:]


def main(n_stays: int, repeats: int) -> None:
    """Print the median ratios of `repeats` paired runs."""
    runs = paired_runs(n_stays, repeats)
    print(f"{n_stays:,} stays, {repeats} runs, DuckDB {duckdb.__version__}, x plain read")
    for step in runs[0]:
        wall, processor = (statistics.median(run[step][k] / run["plain read"][k] for run in runs)
                           for k in (0, 1))
        print(f"{step:12} wall {wall:6.2f}  processor {processor:6.2f}  "
              f"({statistics.median(run[step][0] for run in runs):.2f} s)")
    wall, processor = (statistics.median(
        sum(run[step][k] for step in ("raw", "clean", "lives")) / run["plain read"][k]
        for run in runs) for k in (0, 1))
    print(f"{'whole chain':12} wall {wall:6.2f}  processor {processor:6.2f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000,
         int(sys.argv[2]) if len(sys.argv) > 2 else 3)
