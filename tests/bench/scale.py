"""How time and memory of a fleet grow with its lives, and what a second worker is worth.

Run: ``python -m tests.bench.scale [--full] [--lives N ...] [--work FOLDER] [--workers N]``;
``--write`` keeps the figures where the Guide shows them.

An invented fleet is written partition by partition (20 classes, 8 constructions, 4 mechanisms; 20
lives a place; one site for every five million lives) and worked out from them: curves, joint draws,
rates of places, forecasts, worst places. Quick sizes are 10^5, 10^6 and 10^7 lives, ``--full`` adds
10^8. Each size runs in a process of its own. Every task's result is kept in the work folder with
the seconds it took, so that a run that was stopped goes on where it was, and one that ended is not
begun again; delete the folder to measure anew. Disk: about 4 bytes a life for the partitions and
150 MB for kept results at 10^8.

Where 10^7 lives (144 processor seconds) spend their time, and what was done about it; the shares
within forecasts are those of one class, 25,000 places on 8 tables:

1. Tables of forecasts, about 50 s. Made where a class has 900 places a construction, and kept for
   all its partitions; each rate takes the coarsest steps that it allows.
2. Rates of places drawn, about 22 s. A stream of random numbers for each place, so that no other
   place moves it; opening the stream is most of it, and was left.
3. Places read from tables, about 14 s. Cubic shares laid out in the order in which they are used,
   and what is read of a table set apart once an atom: two thirds of before.
4. Pooling, 10 s. Once for the fleet, on sums; it grows with the ages of failures of unknown
   mechanism that differ, not with lives.
5. Failures of places against those expected, 8 s, and once more for the forecast, 6 s. Lives are
   grouped to those that differ before anything is worked out.

Seconds are of wall clock, of the work itself, whether done now or kept from before; ``cpu s`` are
processor seconds of all processes, which other work on the machine moves little. Memory is the
greatest sum over this process and its workers, looked at ten times a second.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import json
import os
import pickle
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import psutil

from etl.scale import pool, work
from etl.scale.executors import Here, Processes
from etl.scale.partitions import read_list
from etl.settings import Settings
from tests.bench.goal_rows import Goal, keep
from tests.bench.goal_run import show as shown
from tests.bench.goal_run import start_anew
from tests.scale.world import World, write_world

MAPS = ("summarise", "tally", "forecast")
QUICK, FULL = (10**5, 10**6, 10**7), (10**8,)
CLASSES, CONSTRUCTIONS, LIVES_A_PLACE = 20, 8, 20
LIVES_A_SITE = 5_000_000
DISK_BYTES_A_LIFE = 8.0


def world_of(n_lives: int) -> World:
    """Return the sizes of a fleet."""
    sites = max(1, n_lives // LIVES_A_SITE)
    places = max(1, round(n_lives / (sites * CLASSES * LIVES_A_PLACE)))
    return World(sites, CLASSES, CONSTRUCTIONS, places, LIVES_A_PLACE)


class Timed:
    """An executor that notes the seconds of each map, and keeps results for a run begun again."""

    def __init__(self, executor: Here | Processes, kept: Path) -> None:
        self._executor, self._kept = executor, kept
        self.seconds: dict[str, float] = {}
        self.busy: dict[str, float] = {}
        self.shares: dict[str, dict[str, float]] = {}
        self.now, self.n_kept = 0.0, 0

    def map(self, function, tasks) -> Iterator:
        """Yield results in order, those kept from before without doing them again."""
        name = function.__name__
        folder = self._kept / name
        folder.mkdir(parents=True, exist_ok=True)
        note = folder / "seconds.json"
        before = json.loads(note.read_text()) if note.exists() else 0.0
        paths = [folder / hashlib.sha256(pickle.dumps(task)).hexdigest()[:32] for task in tasks]
        missing = [task for task, path in zip(tasks, paths, strict=True) if not path.exists()]
        self.n_kept += len(tasks) - len(missing)
        fresh, now = iter(self._executor.map(Clocked(function), missing)), 0.0
        for path in paths:
            began = time.perf_counter()
            if path.exists():
                who, busy, result = pickle.loads(path.read_bytes())
            else:
                who, busy, result = next(fresh)
                path.with_suffix(".tmp").write_bytes(pickle.dumps((who, busy, result)))
                path.with_suffix(".tmp").replace(path)
                now += time.perf_counter() - began
                note.write_text(json.dumps(before + now))
            self.busy[name] = self.busy.get(name, 0.0) + busy
            share = self.shares.setdefault(name, {})
            share[who] = share.get(who, 0.0) + busy
            yield result
        next(fresh, None)  # ends the map: one that is dropped before its end lets the workers go
        self.now += now
        self.seconds[name] = json.loads(note.read_text())

    def close(self) -> None:
        """Let the workers go."""
        self._executor.close()


class Clocked:
    """A function with its process and processor seconds; it can be sent to another process."""

    def __init__(self, function) -> None:
        self._function = function

    def __call__(self, task):
        began = time.process_time()
        result = self._function(task)
        return str(os.getpid()), time.process_time() - began, result


class Peak(threading.Thread):
    """Looks at the memory of this process and its workers."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.bytes = 0

    def run(self) -> None:
        """Look ten times a second."""
        me = psutil.Process()
        while True:
            total = 0
            for process in (me, *me.children(recursive=True)):
                with contextlib.suppress(psutil.Error):
                    total += process.memory_info().rss
            self.bytes = max(self.bytes, total)
            time.sleep(0.1)


def one(n_lives: int, root: Path, workers: int) -> None:
    """Work one fleet out and leave the figures as a file."""
    folder = root / f"{n_lives}"
    write_world(world_of(n_lives), folder / "parts")
    listed = read_list(str(folder / "parts"))
    peak = Peak()
    peak.start()
    executor = Timed(Processes(workers) if workers > 1 else Here(), folder / f"kept-{workers}")
    pooling = pooled = 0.0

    def estimate(*given):
        nonlocal pooling, pooled
        began, pooled = time.perf_counter(), time.process_time()
        found = pool.estimate(*given)
        pooling, pooled = time.perf_counter() - began, time.process_time() - pooled
        return found

    work.estimate = estimate
    began, own = time.perf_counter(), time.process_time()
    results = work.fleet_results(listed, executor, Settings())
    rest = time.perf_counter() - began - executor.now - pooling
    own = time.process_time() - own
    executor.close()
    tables = hashlib.sha256(b"".join(
        frame.to_csv(index=False).encode() for frame in results.tables.values())).hexdigest()
    disk = sum(path.stat().st_size for path in (folder / "parts").rglob("*.parquet"))
    note = folder / f"figures-{workers}.json"
    before = json.loads(note.read_text())["peak"] if note.exists() else 0
    figures = {
        "lives": sum(part.n_lives for part in listed.partitions), "maps": executor.seconds,
        "busy": executor.busy, "shares": executor.shares, "pooling": pooling, "rest": rest,
        "pooling_busy": pooled, "own_busy": own, "workers": workers,
        "peak": max(before, peak.bytes), "disk": disk,
        "kept": executor.n_kept, "tables": tables, "partitions": len(listed.partitions),
    }
    note.write_text(json.dumps(figures, indent=1))


def measured(n_lives: int, root: Path, workers: int) -> dict[str, Any]:
    """Return the figures of one size, from a process of its own; those kept where it ended."""
    note = root / f"{n_lives}" / f"figures-{workers}.json"
    if note.exists():
        kept: dict[str, Any] = json.loads(note.read_text())
        return kept
    need = DISK_BYTES_A_LIFE * n_lives + 2e8
    root.mkdir(parents=True, exist_ok=True)
    free = shutil.disk_usage(root).free
    if free < need:
        raise SystemExit(f"{n_lives:,} lives need {need / 1e9:.1f} GB of disk, {free / 1e9:.1f} "
                         "are free. Choose another folder with --work.")
    subprocess.run([sys.executable, "-m", "tests.bench.scale", "--one", str(n_lives), "--work",
                    str(root), "--workers", str(workers)], check=True)
    found: dict[str, Any] = json.loads(note.read_text())
    return found


def show(n_lives: int, workers: int, row: dict[str, Any]) -> None:
    """Print one row of the table."""
    maps = row["maps"]
    total = sum(maps.values()) + row["pooling"] + row["rest"]
    print(f"{row['lives']:>12,} {workers:>7} {row['partitions']:>6} "
          + " ".join(f"{maps[name]:>9.1f}" for name in MAPS)
          + f" {row['pooling']:>8.1f} {row['rest']:>6.1f} {total:>8.1f} "
          f"{busy(row):>8.1f} {row['peak'] / 2**30:>6.2f} "
          f"{row['disk'] / row['lives']:>6.1f} {row['kept']:>5}", flush=True)


def busy(row: dict[str, Any]) -> float:
    """Return the processor seconds of a run, workers included."""
    here = sum(row["busy"].values()) if row["workers"] > 1 else 0.0  # else they are its own
    return float(row["own_busy"] + here)


def longest(row: dict[str, Any]) -> float:
    """Return the processor seconds of the maps along their longest way, the busiest worker."""
    return float(sum(max(share.values()) for share in row["shares"].values()))


def main() -> None:
    """Print the table, the growth and the gain."""
    parser = argparse.ArgumentParser(description="How a fleet grows.")
    parser.add_argument("--full", action="store_true", help="10^8 lives as well")
    parser.add_argument("--lives", type=int, nargs="+", help="sizes instead")
    parser.add_argument("--work", type=Path, default=Path("scale-work"), help="where to work")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--gain", type=int, default=10**6, help="size at which workers compare")
    parser.add_argument("--write", action="store_true", help="keep the figures for the guide")
    parser.add_argument("--one", type=int, help=argparse.SUPPRESS)
    options = parser.parse_args()
    start_anew("tests.bench.scale")
    if options.one:
        one(options.one, options.work.resolve(), options.workers)
        return
    sizes = options.lives or [*QUICK, *(FULL if options.full else ())]
    print(f"{'lives':>12} {'workers':>7} {'parts':>6} "
          + " ".join(f"{name:>9}" for name in MAPS)
          + f" {'pooling':>8} {'rest':>6} {'total s':>8} {'cpu s':>8} {'GiB':>6} {'B/life':>6} "
          f"{'kept':>5}")
    rows = {}
    for n_lives in sizes:
        rows[n_lives] = measured(n_lives, options.work, options.workers)
        show(n_lives, options.workers, rows[n_lives])
    found = growth(rows) if len(sizes) > 1 else []
    alone = measured(options.gain, options.work, 1)
    show(options.gain, 1, alone)
    both = rows.get(options.gain) or measured(options.gain, options.work, options.workers)
    times = (sum(row["maps"].values()) for row in (alone, both))
    found += [Goal(f"{options.gain:,} lives, one worker to {options.workers}: maps so many times "
                   "as fast", next(times) / next(times), at_least=1.7),
              Goal("the same, by processor seconds of the busiest worker",
                   longest(alone) / longest(both))]
    print(f"the same tables with one worker and with more: {alone['tables'] == both['tables']}")
    for goal in found:
        shown("F1", goal)
    if options.write:
        keep("F1", found, "full" if max(sizes) >= max(FULL) else "quick")


def growth(rows: dict[int, dict[str, Any]]) -> list[Goal]:
    """Return the exponent of time over lives, and the greatest memory; sizes in order."""
    least, most = min(rows), max(rows)
    log_n = np.log([row["lives"] for row in rows.values()])
    log_s = np.log([busy(row) for row in rows.values()])
    before = sorted(rows)[-2]
    return [
        Goal(f"{most:,} lives: greatest memory of all processes, GiB",
             max(row["peak"] for row in rows.values()) / 2**30, at_most=4.0),
        Goal(f"{most:,} lives: processor minutes of all processes", busy(rows[most]) / 60.0),
        Goal(f"processor seconds from {least:,} to {most:,} lives, exponent",
             float(np.polyfit(log_n, log_s, 1)[0]), at_most=1.05),
        Goal(f"processor seconds from {before:,} to {most:,} lives, exponent",
             float(np.diff(log_s)[-1] / np.diff(log_n)[-1]), at_most=1.05),
    ]


if __name__ == "__main__":
    main()
