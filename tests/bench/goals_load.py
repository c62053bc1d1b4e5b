"""The goals of loading in one table, with what this machine reaches now.

Run: ``python -m tests.bench.goals_load [--only NAME ...] [--full]``. "x plain" is a cost divided
by that of DuckDB's own all-text read of the same files in the same process; every figure comes
from invented logs. Without ``--full`` the fleets are smaller: ratios then hold more of what a
load costs whatever its size. Nothing fails when a goal is missed: the table says so.
"""

from __future__ import annotations

import argparse
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import duckdb
import numpy as np
import python_calamine as calamine

from etl.load.delimited import Job
from etl.load.extract import Dialect, Wanted
from etl.load.readers import read
from etl.load.warehouse import connect
from tests.bench.bench_lives import logs_refused, paired_runs
from tests.bench.goal_rows import Goal
from tests.bench.goals import show
from tests.bench.goals_append import append, exports
from tests.load.new_workbook import book
from tests.sql.slow_walk import match
from tests.sql.test_order_free import tables
from tests.sql.test_pairing_walk import matched_by_sql, random_places

STEPS = ("raw", "clean", "lives")
LIMIT_MB = 1000
IN_A_CHILD = """
import resource, sys
from pathlib import Path
from tests.bench.bench_lives import limited_run
counts = limited_run(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
print(counts, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, sep=";")
"""


def chain(full: bool) -> Iterator[Goal]:
    """Time of every step, and how it grows with the fleet."""
    sizes = (100_000, 1_000_000) if full else (30_000, 300_000)
    small, large = (paired_runs(size, 3) for size in sizes)
    steps = ("plain read", *STEPS)
    seconds = {step: [statistics.median(run[step][1] for run in runs) for runs in (small, large)]
               for step in steps}
    # Processor time holds beside other work on the machine; the wall says what threads are used.
    for number, clock in ((1, "processor"), (0, "wall")):
        whole = statistics.median(
            sum(run[step][number] for step in STEPS) / run["plain read"][number] for run in large)
        yield Goal(f"files to lives, {sizes[1]:,} stays, {clock}, x plain", whole, 6.5)
    most = {"raw": 2.0}
    for step in STEPS:
        ratio = statistics.median(run[step][0] / run["plain read"][0] for run in large)
        yield Goal(f"  {step}, wall, x plain", ratio, most.get(step))
    for step in steps:
        growth = np.log(seconds[step][1] / seconds[step][0]) / np.log(sizes[1] / sizes[0])
        yield Goal(f"  growth exponent of {step}, processor", float(growth),
                   None if step == "plain read" else 1.1)


def memory(full: bool) -> Iterator[Goal]:
    """Peak memory of a process whose database is held to a limit, and that its lives agree."""
    n_stays = 3_000_000 if full else 500_000
    found = []
    with tempfile.TemporaryDirectory() as folder:
        for limit in (LIMIT_MB, 4 * LIMIT_MB):
            run = subprocess.run(
                [sys.executable, "-c", IN_A_CHILD, folder, str(n_stays), str(limit)],
                capture_output=True, text=True, check=True)
            counts, peak = run.stdout.strip().split(";")
            found.append(counts)
            yield Goal(f"peak memory over a limit of {limit:,} MB, {n_stays:,} stays, MiB",
                       float(peak) - limit / 1.048576, 200)
    yield Goal("  different sets of lives under the limits", len(set(found)), 1)


def pairing(full: bool) -> Iterator[Goal]:
    """Removals matched to installations, against a walk in plain Python."""
    n = 100_000 if full else 10_000
    places = random_places(n, 7, 6, (None, "A", "B"))
    found = matched_by_sql(places, walks_all=False, threads=2)
    n_wrong = 0
    for events in places.values():
        one = match(events)
        n_wrong += any(found.removals.get(e.number) != one.removals.get(e.number)
                       or found.replaced.get(e.number) != one.replaced.get(e.number)
                       or found.unpaired.get(e.number) != one.unpaired.get(e.number)
                       for e in events)
    yield Goal(f"places of {n:,} paired otherwise than by a slow walk", n_wrong, 0)


def order(full: bool) -> Iterator[Goal]:
    """The same tables, whatever the order of rows and the number of threads."""
    made = {repr(tables(seed, threads)) for seed in range(4 if full else 2)
            for threads in (1, 2, 8)}
    yield Goal("different tables over row orders and threads 1, 2, 8", len(made), 1)


def balance(full: bool) -> Iterator[Goal]:
    """Every row accounted for, and every refused row by its number."""
    n_lost, n_wrong, n_refused = logs_refused(1_000_000 if full else 100_000)
    yield Goal("rows read that are not once clean, superseded or refused", n_lost, 0)
    yield Goal(f"  wrong row numbers of {n_refused:,} refused rows", n_wrong, 0)


def workbook(full: bool) -> Iterator[Goal]:
    """A workbook beside the reader of cells alone."""
    n = 1_000_000 if full else 100_000
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "installations.xlsx"
        path.write_bytes(book([["installed_on", "service_point", "hose_id", "construction"],
                               *([f"2020-01-{1 + i % 28:02}", f"P{i % 999}", f"H{i}", "C1"]
                                 for i in range(n))]))
        with connect() as con:
            job = Job(con, path, path.name, "raw.book", Path(name), Wanted(), Dialect())
            # In pairs: the machine is not equally fast from one minute to the next.
            ratio = statistics.median(
                _seconds(lambda: read(job)) / _seconds(
                    lambda: calamine.CalamineWorkbook.from_path(str(path))
                    .get_sheet_by_index(0).to_python())
                for _ in range(5))
    yield Goal(f"workbook of {n:,} rows, processor, x reading its cells alone", ratio, 1.5)


def _seconds(work: Callable[[], object]) -> float:
    """Return processor seconds of `work`, of the processes that it starts, too."""
    def used() -> float:
        both = (resource.getrusage(who)
                for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
        return sum(one.ru_utime + one.ru_stime for one in both)
    before = used()
    work()
    return used() - before


GOALS: dict[str, Callable[[bool], Iterator[Goal]]] = {
    "chain": chain, "memory": memory, "pairing": pairing, "order": order, "balance": balance,
    "workbook": workbook, "append": append, "exports": exports,
}


def main() -> None:
    """Print the rows asked for."""
    parser = argparse.ArgumentParser(description="Goals of loading.")
    parser.add_argument("--only", nargs="+", metavar="GOAL", choices=list(GOALS), default=[])
    parser.add_argument("--full", action="store_true", help="fleets of full size")
    options = parser.parse_args()
    print(f"{platform.processor() or platform.machine()}, python {platform.python_version()}, "
          f"DuckDB {duckdb.__version__}")
    for name in options.only or GOALS:
        start = time.perf_counter()
        for goal in GOALS[name](options.full):
            show(name, goal)
        print(f"{'':9}({time.perf_counter() - start:.0f} s)", flush=True)


if __name__ == "__main__":
    main()
