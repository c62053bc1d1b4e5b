"""Rows that come to a large store later: only the service points that they touch are built again.

The same statements run over all rows of those places; every table of the layers is then what was
kept of the last whole build (`etl.load.base`) for the other places, and the new rows for these.
Wherever it cannot be told from what is kept which places those are, nothing is taken from it.
"""

from __future__ import annotations

import contextlib
import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import duckdb

from etl.load import archive
from etl.load.base import open_base, sign_of
from etl.load.columns import LOGS
from etl.load.entered import FIRST_LOAD, batches, read_journal
from etl.load.raw import load_new
from etl.load.touched import Append

SEARCHES = "statistics_propagation,join_order,common_subplan,projection_placement"
"""Steps of the planner that pay over many rows alone."""
FEW_BYTES = 200_000
"""Of files with so few rows that this holds."""


def build_appended(
    con: duckdb.DuckDBPyConnection, store: Path, day: dt.date | None,
    degraded_is_suspension: Sequence[str], say: Callable[[str], None] | None = None,
) -> dt.date | None:
    """Make the layers ``raw``, ``clean`` and ``lives`` of what is kept and of what came since.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        An empty work database.
    store : Path
        Its lock is held.
    day : date or None
        Data date; None takes the latest day in the logs.
    degraded_is_suspension : sequence of str
        As `etl.load.typing.build_lives` takes it.
    say : callable or None

    Returns
    -------
    date or None
        The data date; the tables hold what a whole build would give. None where a whole build
        has to be made, in another database.

    Raises
    ------
    duckdb.Error
        What is kept is damaged.
    """
    if not open_base(con, store, sign_of(degraded_is_suspension)):
        return None
    new = _new_files(con, store)
    if new is None:
        return None
    with _made_for_few(con, new[0]):
        groups = load_new(con, store, *new, say)
        if groups is None:
            return None
        con.begin()  # once, not for each of many statements; after reading, which numbers rows
        try:
            made = Append(con, degraded_is_suspension).build(groups, day)
        except duckdb.Error:
            con.rollback()
            raise
        con.commit()
    return made


@contextlib.contextmanager
def _made_for_few(con: duckdb.DuckDBPyConnection,
                  items: Sequence[archive.Registered]) -> Iterator[None]:
    """Run statements over few rows as they are written, by one thread.

    To share out the work, or to look for a better plan, would cost more than it saves.
    """
    threads = con.execute("select current_setting('threads')").fetchall()[0][0]
    if sum(item.size_bytes for item in items) <= FEW_BYTES:
        con.execute(f"set threads = 1; set disabled_optimizers = '{SEARCHES}'")
    try:
        yield
    finally:
        con.execute(f"set threads = {threads}; reset disabled_optimizers")


def _new_files(
    con: duckdb.DuckDBPyConnection, store: Path,
) -> tuple[list[archive.Registered], list[int]] | None:
    """Return the files that came since, and the numbers of entries that are known."""
    known = con.execute("from base.files order by load_id").fetchall()
    items = archive.registered(store)
    rests_on = [(item.load_id, item.source_file, item.sha256, item.mapping_sha256, item.loaded_on)
                for item in items[:len(known)]]
    if rests_on != known:
        return None
    entered = {
        batch.load_id: (batch.sha256, batch.n_rows + batch.n_repeated + len(batch.torn))
        for log in LOGS.values() for batch in batches(log, read_journal(store, log.name))}
    before = con.execute("select load_id, sha256, n_records from base.raw.loads where load_id >= ?",
                         [FIRST_LOAD]).fetchall()
    if any(entered.get(load_id) != (sha256, n) for load_id, sha256, n in before):
        return None
    return items[len(known):], [load_id for load_id, _, _ in before]
