"""How many requests a second are held, 95 of 100 within 300 ms, while an edition is published.

``python -m tests.bench.serving STORE`` works on a copy of the store. Requests arrive by the clock,
whether or not earlier ones were answered; the rate is raised until it is not held any more. Twice:
with a new edition taking the place of the old one every few seconds, and with a whole load running
beside it. The visitors run on the same machine, so what they take is missing to the server.
"""

from __future__ import annotations

import argparse
import asyncio
import itertools
import os
import platform
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.bench.visitors import ROOT, Told, Visitors, drawn, server, visits

WITHIN_MS = 300.0
PART = 0.95


async def _arrivals(port: int, requests: Iterator[bytes], rate: float, seconds: float) -> Told:
    told, visitors = Told(), Visitors(port)

    async def one(request: bytes, began: float) -> None:
        try:
            status, body = await visitors.ask(request)
            told.add(began, status, b"" if status == 200 else body)
        except (OSError, asyncio.IncompleteReadError) as exc:
            told.add(began, type(exc).__name__)

    began, tasks = time.perf_counter(), []
    for number in itertools.count():
        due = began + number / rate
        if due - began > seconds:
            break
        await asyncio.sleep(max(0.0, due - time.perf_counter()))
        tasks.append(asyncio.create_task(one(next(requests), due)))
    await asyncio.gather(*tasks)
    await visitors.close()
    return told


@contextmanager
def publishing(store: Path, every_s: float) -> Iterator[Callable[[], int]]:
    """Publish the current edition anew under the next number again and again."""
    over, done = threading.Event(), [0]

    def publish() -> None:
        while not over.wait(every_s):
            name = (store / "current").read_text().strip()
            number = int(name[8:14]) + 1
            new = store / "editions" / f"edition-{number:06d}.duckdb"
            shutil.copy(store / "editions" / name, new)
            (store / "current.tmp").write_text(new.name + "\n")
            os.replace(store / "current.tmp", store / "current")
            (store / "editions" / name).unlink()
            done[0] += 1

    thread = threading.Thread(target=publish)
    thread.start()
    try:
        yield lambda: done[0]
    finally:
        over.set()
        thread.join()


@contextmanager
def loading(store: Path) -> Iterator[Callable[[], int]]:
    """Build editions one after another, as `braidlife load` does, at low priority."""
    over, done = threading.Event(), [0]

    def load() -> None:
        while not over.is_set():
            process = subprocess.Popen(
                [sys.executable, "-m", "etl", "load", "--store", str(store)], cwd=ROOT,
                stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                preexec_fn=lambda: os.nice(10))
            while process.poll() is None and not over.wait(0.2):
                pass
            if over.is_set():
                process.kill()
            done[0] += process.wait() in (0, 1)

    thread = threading.Thread(target=load)
    thread.start()
    try:
        yield lambda: done[0]
    finally:
        over.set()
        thread.join()


def busy(pid: int) -> dict[int, float]:
    """Return the seconds of processor that each process of a server has used so far."""
    found = {}
    for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split() or [str(pid)]:
        fields = Path(f"/proc/{child}/stat").read_text().rpartition(")")[2].split()
        found[int(child)] = (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    return found


def held(port: int, requests: Iterator[bytes], rates: list[float], seconds: float) -> float:
    """Raise the rate until it is not held; print one line a step and return the last that was."""
    best = 0.0
    for rate in rates:
        told = asyncio.run(_arrivals(port, requests, rate, seconds))
        p95 = told.share(PART)
        print(f"  {rate:6.0f}/s   half {told.share(0.5):7.1f}   95 of 100 {p95:7.1f}   "
              f"longest {told.share(1.0):8.1f} ms   {len(told.ms)} asked, "
              f"{len(told.faults)} faults {sorted(set(told.faults))[:3] or ''}", flush=True)
        if p95 > WITHIN_MS or told.faults:
            break
        best = rate
        time.sleep(0.5)
    return best


def main() -> None:
    """Print how many requests a second are held."""
    parser = argparse.ArgumentParser(description="Requests held while an edition is published.")
    parser.add_argument("store", type=Path)
    parser.add_argument("--seconds", type=float, default=8.0, help="at each rate")
    parser.add_argument("--every", type=float, default=4.0, help="seconds between publications")
    parser.add_argument("--rates", type=float, nargs="+",
                        default=[10, 20, 30, 40, 50, 60, 80, 100, 120, 150, 200, 300])
    parser.add_argument("--only", default="", help="part of a name")
    parser.add_argument("--more", nargs="*", default=[], help="options of `braidlife serve`")
    options = parser.parse_args()
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, "
          f"load before {os.getloadavg()[0]:.1f}; held: {PART:.0%} within {WITHIN_MS:.0f} ms")
    with tempfile.TemporaryDirectory(prefix="braidlife-") as folder:
        store = Path(shutil.copytree(options.store, Path(folder) / "store"))
        asked = visits(store)
        with server(store, *options.more) as (process, port):
            asyncio.run(_arrivals(port, drawn(asked, 1), 20, 4))  # the first ones load libraries
            for name, change in (("an edition every few seconds",
                                  lambda: publishing(store, options.every)),
                                 ("a load running beside", lambda: loading(store))):
                if options.only not in name:
                    continue
                print(f"{name}:")
                before = busy(process.pid)
                with change() as count:
                    best = held(port, drawn(asked, 2), options.rates, options.seconds)
                    print(f"  held: {best:.0f} requests a second; {count()} editions published; "
                          "seconds of processor by process: " + ", ".join(
                              f"{used - before.get(pid, 0.0):.1f}"
                              for pid, used in busy(process.pid).items()), flush=True)


if __name__ == "__main__":
    main()
