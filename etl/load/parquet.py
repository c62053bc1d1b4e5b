"""Read a Parquet file as text, and tell where the type of a column is not what is meant."""

from __future__ import annotations

import duckdb

from etl.errors import InputError
from etl.load.cell_text import DAYS, DECIMALS, TIMES, TRUTHS
from etl.load.delimited import Job, escaped
from etl.load.extract import UNREADABLE_COLUMNS, Correction, Extract, folded
from etl.load.names import nearest
from etl.load.quoting import literal

INSTANT = "TIMESTAMP WITH TIME ZONE"
"""Type of a column of instants: Parquet keeps them without the place whose clock they came from."""
WHOLE_TO = {"DOUBLE": 2**53, "FLOAT": 2**24}
"""Type -> number from which on it no longer tells one whole number from the next (IEEE 754)."""
LOST_DIGITS = "numbers larger than their type keeps whole: their last digits may be lost"
NOT_TEXT = ((TRUTHS, ("BOOLEAN",)), (DAYS, ("DATE", "TIMESTAMP")), (TIMES, ("TIME", "INTERVAL")))
"""What is told of a column of texts whose type begins like this."""


def read_parquet(job: Job) -> Extract:
    """Read a Parquet file as text; whole numbers lose the point that a gap in the column gave them.

    Raises
    ------
    InputError
        It is not a readable Parquet file, or its mapping names an unknown time zone.
    """
    con, path = job.con, escaped(job.path)
    zone = _known_zone(job)
    try:
        described = con.execute(
            "describe select * from read_parquet($path, hive_partitioning = false)", {"path": path}
        ).fetchall()
        cells = ", ".join(
            f"{_as_text(name, kind, zone)} as c{i}" for i, (name, kind, *_) in enumerate(described)
        )
        con.execute(f"drop table if exists {job.table}; drop table if exists {job.faults}")
        con.execute(
            f"create table {job.table} as select file_row_number + 2 as source_row, {cells}"
            " from read_parquet($path, file_row_number = true, hive_partitioning = false)",
            {"path": path},
        )
    except duckdb.Error as exc:
        raise InputError(
            f"{job.file}: not a readable Parquet file. Export it again, or as CSV."
        ) from exc
    con.execute(f"create table {job.faults} ({UNREADABLE_COLUMNS})")
    count = con.execute(f"select count(*) from {job.table}").fetchone()
    names = tuple(" ".join(str(row[0]).split()) for row in described)
    extract = Extract(job.table, job.faults, names, "source_row",
                      (count[0] if count else 0) + 1, 0)
    _tell_types(job, extract, [(name, kind) for name, kind, *_ in described], path)
    if job.dialect.time_zone is None:
        _tell_instants(con, extract, [kind for _, kind, *_ in described])
    return extract


def _known_zone(job: Job) -> str:
    """Return the declared time zone, UTC without one.

    Raises
    ------
    InputError
        It is not known.
    """
    declared = job.dialect.time_zone or "UTC"
    known = [str(name) for name, in job.con.execute(
        "select name from pg_timezone_names() order by name").fetchall()]
    if declared not in known:
        hint = nearest(declared, known) if nearest(declared, known).startswith(" Did") else ""
        raise InputError(f"{job.file}: columns.toml names the unknown time zone {declared!r}.{hint}"
                         " Write one such as Europe/Oslo.")
    return declared


def _tell_instants(con: duckdb.DuckDBPyConnection, extract: Extract, kinds: list[str]) -> None:
    """Note the columns of instants: their day depends on the clock, and none was declared."""
    for position, (name, kind) in enumerate(zip(extract.header, kinds, strict=True)):
        if kind == INSTANT:
            found = con.execute(f"select count(c{position}), min(c{position})"
                                f" from {extract.table}").fetchone()
            if found and found[0]:
                extract.corrections.append(Correction(
                    name, "instants read by the clock of UTC: declare time_zone if days are"
                    " those of another place", *found))


def _as_text(name: str, kind: str, zone: str) -> str:
    """Return the SQL that writes a Parquet column as text."""
    column = _named(name)
    if kind in WHOLE_TO:
        return (f"case when not isfinite({column}) then null when {column} = trunc({column})"
                f" then coalesce(try_cast({column} as hugeint)::varchar, {column}::varchar)"
                f" else {column}::varchar end")
    if kind.startswith("DECIMAL"):
        return (f"case when {column} = trunc({column}) then {column}::hugeint::varchar"
                f" else {column}::varchar end")
    if kind == INSTANT:
        return f"({column} at time zone {literal(zone)})::varchar"
    return f"nullif({column}::varchar, '')"


def _named(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def _tell_types(job: Job, extract: Extract, described: list[tuple[str, str]], path: str) -> None:
    """Note columns whose declared type is not what is meant, and what that may have cost."""
    for position, (name, kind) in enumerate(described):
        header, column = extract.header[position], _named(name)
        if folded(header) in job.wanted.dates | job.wanted.numbers:
            continue
        told = []
        if kind in WHOLE_TO:
            told.append((LOST_DIGITS, f"abs({column}) >= {WHOLE_TO[kind]} and isfinite({column})"))
        if folded(header) in job.wanted.tags and kind.startswith((*WHOLE_TO, "DECIMAL")):
            told.append((DECIMALS, f"{column} <> trunc({column})"))
        if folded(header) in job.wanted.texts:
            what = next((what for what, start in NOT_TEXT if kind.startswith(start)), None)
            told += [(what, f"{column} is not null")] if what else []
        for what, condition in told:
            found = job.con.execute(
                f"select count(*), min(c{position}) from (select file_row_number + 2 as source_row"
                " from read_parquet($path, file_row_number = true, hive_partitioning = false)"
                f" where {condition}) join {extract.table} using (source_row)", {"path": path}
            ).fetchone()
            if found and found[0]:
                extract.corrections.append(Correction(header, what, *found))
