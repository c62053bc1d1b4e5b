"""What is kept of a whole build of a large store, so that a later load need not do all of it again.

One file beside the editions, written aside and renamed. It is nobody's only copy: whenever it is
missing, damaged, or rests on anything but what is there now, everything is built from the archive.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import os
from collections.abc import Collection, Sequence
from functools import cache
from pathlib import Path

import duckdb

from etl.load import archive, seeds
from etl.load.columns import LOGS
from etl.load.data_day import believable_days
from etl.load.kept import sync
from etl.load.packed import pack_statement
from etl.load.quoting import literal
from etl.load.raw import declares_places
from etl.load.row_choice import TOO_LATE
from etl.load.typed_cells import NO_WORD
from etl.load.warehouse import run_layer, text_of
from etl.paths import resource

FILE = "rows.duckdb"
ASIDE = "work.rows.duckdb"
"""Removed with the other work files where a build dies."""
MOST_WORDS = 1000
"""Unknown words up to which the nearest known one is looked up whatever else there is."""
BLOCK_BYTES = 65_536
"""A quarter of what is usual: a later load reads few rows, and a block is always read whole."""
MOST_SOUGHT = 2_000
"""Keys up to which rows are sought one by one in an index; more are found faster by reading all."""
MOST_FOUND = 20_000
"""Rows of which the same holds."""
REGISTERS = ("service_points", "constructions", "parts", "trials")
"""Logs whose current rows stand as tables."""
BY_PLACE = ("installations", "replacements", "inspections", "teardowns")
"""Logs of which the rows of touched places are enough."""
COPIED = {
    "raw": (*LOGS, "loads", "unreadable"),
    "clean": (*REGISTERS, "points", "remedies", "keys", "fates", "returned", "impossible",
              "refused", "refused_cells"),
    "lives": ("stays", "examined_stays", "concluded", "orphans", "findings"),
}
ABSENT = {
    "usage": ("meters", "place_meters", "metered", "ran", "exchanged_meters"),
    "teardowns": ("examined_stays", "concluded"),
    "inspections": ("seen_good",),
    "swaps": ("swaps_beside_rows",),
}
"""Tables of the lives layer that have no row where a log, or a mapping, has none."""
READ_FOR_OTHERS = ("meters", "metered")
"""Of these, what only others of them read; of all the rest an empty one is kept."""
NEVER = ("usage", "swaps")
"""What a site that has it has no base for."""
CANNOT_GROW = ("service_points", "usage")
"""Logs whose new rows can change every place: its number, or what ran on its machine's meter."""
SIGNED = """
select sign from base.note
where as_of is not null and looks_to is not null and believable is not null
    and latest is not null and n_unknown_words is not null
"""
"""The sign, of a note that is whole."""
CANNOT_TELL = """
select exists (from clean.usage_cells)
    or exists (from clean.teardowns_cells where point_no is null and row_id is not null)
"""
"""Meters that run on at every place, and examinations that are known by a number alone."""


def sign_of(degraded_is_suspension: Sequence[str]) -> str:
    """Return a sign of the software and the settings that rows and stays rest on."""
    rests_on = (duckdb.__version__, _software(), sorted(degraded_is_suspension))
    return hashlib.sha256(repr(rests_on).encode()).hexdigest()


@cache
def _software() -> str:
    """Return a sign of all code and statements that take part in loading."""
    found = hashlib.sha256()
    layers = ("seeds", "raw", "clean", "lives", "base", "append")
    sql = [file for layer in layers for file in sorted((resource("sql") / layer).rglob("*.*"))]
    for file in (*sorted(Path(__file__).parent.glob("*.py")), *sql):
        found.update(file.name.encode() + text_of(file).encode())
    return found.hexdigest()


def open_base(con: duckdb.DuckDBPyConnection, store: Path, sign: str) -> bool:
    """Attach the base of a store as ``base``; False where there is none that can be used."""
    path = store / FILE
    if not path.is_file():
        return False
    try:
        con.execute(f"attach {literal(str(path))} as base (read_only)")
        con.execute(f"set index_scan_max_count = {MOST_FOUND}")
        return con.execute(SIGNED).fetchone() == (sign,)
    except duckdb.Error:
        return False


def among(con: duckdb.DuckDBPyConnection, column: str, sought: str) -> str:
    """Return a condition that finds few rows by an index, many by a join.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    column : str
        An indexed column of whole numbers.
    sought : str
        Table, or statement in parentheses, of one column: the numbers.
    """
    found = [key for key, in con.execute(
        f"select * from {sought} limit {MOST_SOUGHT + 1}").fetchall() if key is not None]
    if len(found) > MOST_SOUGHT:
        return f"{column} in (from {sought})"
    return f"{column} in ({', '.join(map(str, found))})" if found else "false"


def columns_of(con: duckdb.DuckDBPyConnection, table: str) -> dict[str, str]:
    """Return the columns of a table with their SQL types."""
    return {name: str(kind) for name, kind, *_ in con.execute(
        f"from {table} limit 0").description or ()}


def drop_base(store: Path) -> None:
    """Delete the base, so that the next build is a whole one."""
    with contextlib.suppress(OSError):
        (store / FILE).unlink(missing_ok=True)


def is_worth_keeping(
    con: duckdb.DuckDBPyConnection, store: Path, new: Collection[int],
) -> bool:
    """Tell whether a later load could do with less than a whole build.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Holds the layers ``raw`` and ``clean`` of all that the archive holds.
    store : Path
    new : collection of int
        Loads that were made just now.

    Returns
    -------
    bool
        False where rows may hang together in ways that a later load could not see, or where the
        site sends its register again and again.
    """
    if declares_places(store) or con.execute(CANNOT_TELL).fetchone() != (False,):
        return False
    fed = con.execute("select load_id, log from raw.loads where log is not null").fetchall()
    is_first = all(load_id in new for load_id, _ in fed)
    return is_first or not any(load_id in new and log in CANNOT_GROW for load_id, log in fed)


def is_latest(con: duckdb.DuckDBPyConnection, day: dt.date) -> bool:
    """Tell whether a data date takes in all that the logs hold."""
    believable, _ = believable_days(con)
    return believable is not None and day >= believable


def write_base(con: duckdb.DuckDBPyConnection, store: Path, sign: str) -> None:
    """Keep the rows and stays of a whole build.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Holds the layers ``raw``, ``clean`` and ``lives`` of all that the archive holds.
    store : Path
    sign : str
        Of `sign_of`.

    Raises
    ------
    OSError
        The folder cannot be written.
    duckdb.Error
        The disk is full. Nothing is left behind.
    """
    aside = store / ASIDE
    aside.unlink(missing_ok=True)
    try:
        con.execute(f"attach {literal(str(aside))} as base (block_size {BLOCK_BYTES})")
        try:
            _fill(con, store, sign)
            con.execute("checkpoint base")
        finally:
            with contextlib.suppress(duckdb.Error):
                con.execute("detach base")
        sync(aside)
        os.replace(aside, store / FILE)
        sync(store)
    finally:
        for path in (aside, aside.with_name(aside.name + ".wal")):
            with contextlib.suppress(OSError):
                path.unlink(missing_ok=True)


def _fill(con: duckdb.DuckDBPyConnection, store: Path, sign: str) -> None:
    """Make every table of the base."""
    for layer, tables in COPIED.items():
        con.execute(f"create schema base.{layer}")
        for name in tables:
            con.execute(f"create table base.{layer}.{name} as from {layer}.{name}")
    for names in ABSENT.values():
        for name in sorted(set(names) - {*COPIED["lives"], *READ_FOR_OTHERS}):
            con.execute(f"create table base.lives.{name} as from lives.{name} limit 0")
    for name in LOGS:
        con.execute(f"create table base.clean.{name}_cells as from clean.{name}_cells")
    con.execute("create schema base.packed")
    filled = {name: columns_of(con, f"clean.{name}_filled") for name in BY_PLACE}
    con.execute("create table base.packed.rows as " + pack_statement(filled))
    con.execute("create index packed_at on base.packed.rows (point_no)")
    for name in BY_PLACE:  # no row: which columns are packed
        con.execute(f"create table base.packed.{name} as from clean.{name}_filled limit 0")
    con.execute("create schema base.seeds")
    for name in seeds.TABLES:
        con.execute(f"create table base.seeds.{name} as from seeds.{name}")
    believable, latest = believable_days(con)
    run_layer(con, "base", sign=sign, believable=believable, latest=latest, too_late=TOO_LATE,
              no_word=NO_WORD)
    _note_files(con, store)


def _note_files(con: duckdb.DuckDBPyConnection, store: Path) -> None:
    """Write which files the base rests on."""
    con.execute("create table base.files (load_id integer, source_file varchar, sha256 varchar, "
                "mapping_sha256 varchar, loaded_on date)")
    rows = [(item.load_id, item.source_file, item.sha256, item.mapping_sha256, item.loaded_on)
            for item in archive.registered(store)]
    if rows:
        con.executemany("insert into base.files values (?, ?, ?, ?, ?)", rows)
