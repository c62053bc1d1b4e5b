"""Break things at random and count what was lost: nothing may be, and no trace may be shown.

``python -m tests.bench.faults`` prints a table: loads and servers killed with SIGKILL at random
moments, editions damaged at random places, the clock set back, a thousand readers while editions
change. It makes its own small stores; the same seed breaks at the same places, but moments of
kills depend on the machine.
"""

from __future__ import annotations

import argparse
import asyncio
import datetime as dt
import functools
import http.client
import random
import shutil
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest import mock

from dashboard import serve, stop
from dashboard.app import create_app
from dashboard.queries.edition import REBUILD
from etl import run
from etl.entry.journal import append
from etl.load import archive
from etl.load.entered import read_journal
from etl.load.publish import current_edition, current_number
from tests.bench.breaking import Outcome, in_child, is_whole, killed_after
from tests.bench.late_kills import killed_late
from tests.bench.serving import publishing
from tests.bench.visitors import Told, Visitors, drawn, server, visits
from tests.dashboard.page_reader import Reader
from tests.faults.small import FIRST, SECOND, new_store, tables, write_logs

PAGES = ("/", "/places", "/places/A-1", "/lives", "/spares", "/data-health")
ROW = {"service_point": "A-1", "inspected_on": "2021-08-01", "condition": "good"}


def killed_loads(folder: Path, number: int, chance: random.Random) -> Outcome:
    """Kill loads of new logs, and builds after entries, at random moments."""
    found = Outcome()
    first, more = new_store(folder / "first"), write_logs(folder / "more", SECOND)
    run.load(write_logs(folder / "logs", FIRST), first)
    whole = Path(shutil.copytree(first, folder / "whole"))
    began = time.monotonic()
    run.load(more, whole)
    longest = time.monotonic() - began
    before, after = repr(tables(first)), repr(tables(whole))
    for at in range(number):
        store = Path(shutil.copytree(first, folder / "store"))
        is_entered = at % 4 == 3
        if is_entered:
            append(store, "inspections", f"entry-{at:016d}", "R. Moss", [ROW])
        logs = None if is_entered else more
        child = in_child(functools.partial(run.load, logs, store))
        found.seen["killed" if killed_after(child, chance.uniform(0, longest)) else "ended"] += 1
        found.tried += 1
        found.check(is_whole(store), f"load {at}: the store is not whole")
        if current_number(store) == 1:
            found.check(repr(tables(store)) == before, f"load {at}: the old edition changed")
        if is_entered:
            found.check(len(read_journal(store, "inspections").entries) == 1,
                        f"load {at}: an entry is gone")
        elif at % 10 == 0:
            run.load(more, store)
            found.check(repr(tables(store)) == after, f"load {at}: the next load differs")
        shutil.rmtree(store)
    return found


def killed_servers(folder: Path, store: Path, number: int, chance: random.Random) -> Outcome:
    """Kill servers while pages are read and entries confirmed; each confirmed one must be there."""
    found = Outcome()
    store = Path(shutil.copytree(store, folder / "served"))
    app = create_app(store)
    confirmed: list[str] = []

    @app.server.post("/enter/<name>")
    def enter(name: str) -> str:
        append(store, "inspections", name, "R. Moss", [ROW])
        return "kept"

    for at in range(number):
        listener = serve._listener(store, "127.0.0.1", 0)
        port = listener.getsockname()[1]

        def answer(listener: Any = listener) -> None:
            channels: dict[int, Any] = {}
            stop.run(serve._server(app.server, listener, channels), channels)

        child = in_child(answer)
        listener.close()
        over = threading.Event()
        writers = [threading.Thread(target=_write, args=(port, f"{at:06d}-{n}", over, confirmed,
                                                         found)) for n in range(3)]
        for writer in writers:
            writer.start()
        killed_after(child, chance.uniform(0.1, 0.9))
        over.set()
        for writer in writers:
            writer.join()
        found.tried += 1
        found.check(is_whole(store), f"server {at}: the store is not whole")
    kept = read_journal(store, "inspections")
    missing = set(confirmed) - {entry.entry_id for entry in kept.entries}
    found.check(not missing, f"{len(missing)} confirmed entries are gone")
    found.check(not kept.repeated, "an entry is there twice")
    found.seen |= {"confirmed": len(confirmed), "kept": len(kept.entries), "torn": len(kept.torn)}
    return found


def _write(port: int, name: str, over: threading.Event, confirmed: list[str],
           found: Outcome) -> None:
    """Enter one thing after another, and read a page between, until the server is gone."""
    number = 0
    while not over.is_set():
        entry = f"entry-{name}-{number:06d}"
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
        try:
            connection.request("POST", f"/enter/{entry}")
            if connection.getresponse().read() == b"kept":
                confirmed.append(entry)
            connection.request("GET", "/places/A-1")
            text = connection.getresponse().read()
            found.check(b"Traceback" not in text, "a trace was shown")
        except (OSError, http.client.HTTPException):
            time.sleep(0.01)
        finally:
            connection.close()
        number += 1


def damaged_editions(folder: Path, store: Path, number: int, chance: random.Random) -> Outcome:
    """Damage the edition at random places; pages show what is right, or say what to do."""
    found = Outcome()
    whole = current_edition(store).read_bytes()
    right = {page: Reader(store).text(page) for page in PAGES}
    for at in range(number):
        broken = Path(shutil.copytree(store, folder / "broken"))
        raw = bytearray(whole)
        for _ in range(chance.choice([1, 5, 50])):
            spot = chance.randrange(len(raw))
            raw[spot:spot + 64] = chance.randbytes(64)
        current_edition(broken).write_bytes(raw[:len(whole)])
        reader = Reader(broken)
        for page in PAGES:
            text = reader.text(page)
            said = " ".join(text.split())
            is_told = REBUILD.replace("`", "") in said or "could not be shown" in text
            found.seen["said so" if is_told else "shown"] += 1
            found.check(is_told or text == right[page], f"damage {at}: {page} shows other figures")
            found.check("Traceback" not in text, f"damage {at}: a trace was shown")
        found.tried += 1
        shutil.rmtree(broken)
    return found


def clock_set_back(folder: Path, store: Path) -> Outcome:
    """Load and enter while the clock says a day of years ago; nothing may be lost by it."""
    found = Outcome()
    store = Path(shutil.copytree(store, folder / "clock"))
    append(store, "inspections", "entry-before-00000001", "R. Moss", [ROW])
    early = dt.datetime(2019, 1, 1, 8, tzinfo=dt.UTC)
    append(store, "inspections", "entry-after-000000002", "R. Moss",
           [{**ROW, "condition": "worn"}], at=early)

    class Early(dt.date):
        @classmethod
        def today(cls) -> dt.date:
            return early.date()

    with mock.patch.object(archive.dt, "date", Early):
        archive.add(store, write_logs(folder / "late", SECOND))
    run.load(None, store)
    rows = tables(store)
    is_told = "lies after the data date" in repr(rows["refused"])
    found.seen["said so"] += is_told
    if is_told:  # the file is of a day before what it tells: the cure that the row names
        run.load(None, store, as_of="2021-12-31")
        rows = tables(store)
    found.tried = 3
    found.check(len(archive.registered(store)) == len(FIRST) + len(SECOND), "a file is gone")
    found.check(len(read_journal(store, "inspections").entries) == 2, "an entry is gone")
    found.check("2021, 9, 9" in repr(rows["lives"]), "a removal is gone")
    found.check(is_whole(store), "the store is not whole")
    return found


def thousand_readers(folder: Path, store: Path, readers: int) -> Outcome:
    """Let many readers ask at once over loopback while editions change under them."""
    found = Outcome()
    store = Path(shutil.copytree(store, folder / "crowd"))
    asked = visits(store)
    told = Told()

    async def one(port: int, requests: Any) -> None:
        visitor = Visitors(port)
        for _ in range(3):
            began = time.perf_counter()
            try:
                status, body = await asyncio.wait_for(visitor.ask(next(requests)), 300)
                told.add(began, status, b"" if status == 200 else body)
            except (OSError, asyncio.IncompleteReadError, TimeoutError) as exc:
                told.add(began, type(exc).__name__)
        await visitor.close()

    async def crowd(port: int) -> None:
        requests = drawn(asked, 3)
        await asyncio.gather(*(one(port, requests) for _ in range(readers)))

    with server(store) as (_, port), publishing(store, 1.0) as count:
        asyncio.run(crowd(port))
        published = count()
    found.tried = len(told.ms)
    found.lost = told.faults
    found.seen |= {"readers": readers, "editions": published,
                   "seconds the slowest": round(told.share(1.0) / 1000)}
    return found


def main() -> None:
    """Print what was broken and what was lost."""
    parser = argparse.ArgumentParser(description="Break things at random, count what is lost.")
    parser.add_argument("--loads", type=int, default=120)
    parser.add_argument("--late", type=int, default=60)
    parser.add_argument("--servers", type=int, default=120)
    parser.add_argument("--damage", type=int, default=40)
    parser.add_argument("--readers", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="part of a name")
    options = parser.parse_args()
    chance = random.Random(options.seed)
    with tempfile.TemporaryDirectory(prefix="braidlife-") as name:
        folder = Path(name)
        store = new_store(folder / "small")
        run.load(write_logs(folder / "small-logs", FIRST), store)
        kinds: dict[str, Callable[[Path], Outcome]] = {
            "loads killed": lambda at: killed_loads(at, options.loads, chance),
            "late kills": lambda at: killed_late(at, options.late, chance),
            "servers killed": lambda at: killed_servers(at, store, options.servers, chance),
            "editions damaged": lambda at: damaged_editions(at, store, options.damage, chance),
            "clock set back": lambda at: clock_set_back(at, store),
            "readers at once": lambda at: thousand_readers(at, store, options.readers),
        }
        for number, (kind, work) in enumerate(kinds.items()):
            if options.only in kind:
                (folder / str(number)).mkdir()
                began = time.monotonic()
                found = work(folder / str(number))
                print(f"{kind:<18}{found.tried:>6} tried {len(found.lost):>5} lost or wrong  "
                      f"{dict(found.seen)}  {time.monotonic() - began:.0f} s", flush=True)
                for what, count in Counter(found.lost).most_common(5):
                    print(f"    {count} x {what[:200]}")


if __name__ == "__main__":
    main()
