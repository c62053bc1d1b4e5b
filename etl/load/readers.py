"""Read any log file into a staging table: what a file is decides its content, not its name."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import duckdb

from etl.errors import InputError
from etl.load.delimited import Job, escaped, read_delimited
from etl.load.extract import UNREADABLE_COLUMNS, Correction, Extract
from etl.load.names import nearest
from etl.load.quoting import as_text, literal
from etl.load.workbook import read_workbook

SUFFIXES = (".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".xls", ".parquet", ".ods", ".xlsb")
"""Endings of the files of a folder that are taken for logs; the last two only to be refused."""
WORKBOOKS = (".xlsx", ".xlsm", ".xls")
TEXTS = (".csv", ".tsv", ".txt")
INSTANT = "TIMESTAMP WITH TIME ZONE"
"""Type of a column of instants: Parquet keeps them without the place whose clock they came from."""


def read(job: Job) -> Extract:
    """Read a CSV, TSV, XLSX, XLS or Parquet file, every cell as text.

    Parameters
    ----------
    job : Job
        What to read and where to put it.

    Returns
    -------
    Extract

    Raises
    ------
    InputError
        One sentence with the file, the row where there is one, and the cure.
    """
    job = _by_text(job)
    suffix = Path(job.file).suffix.lower()
    content = content_of(job.path)
    if content == "empty":
        raise InputError(f"{job.file}: the file is empty. Export it again.")
    if suffix in WORKBOOKS:
        if content in ("zip", "old"):
            return read_workbook(job, is_old=content == "old")
        raise InputError(f"{job.file}: {NOT_A_WORKBOOK[content]}")
    if suffix == ".parquet":
        return read_parquet(job)
    if suffix in TEXTS:
        if content == "text":
            return read_delimited(job)
        raise InputError(
            f"{job.file}: its content is {CONTENT[content]}, not text. Give the file its right"
            " ending, or export it as CSV."
        )
    raise InputError(
        f"{job.file}: files ending in {suffix or 'nothing'} are not read. Save it as XLSX or CSV."
    )


def _by_text(job: Job) -> Job:
    """Give a file another path where bytes of its own are no text: the database takes none such."""
    if as_text(str(job.path)) == str(job.path):
        return job
    link = job.folder / f"{job.table}.link"
    link.unlink(missing_ok=True)
    link.symlink_to(job.path.resolve())
    return replace(job, path=link)


CONTENT = {"zip": "a workbook or archive", "old": "an old or protected workbook",
           "parquet": "Parquet", "page": "a web page or XML"}
NOT_A_WORKBOOK = {
    "text": "its content is text, not a workbook. Rename it to .csv.",
    "page": "its content is a web page or XML, not a workbook. Open it in a spreadsheet program and"
            " save it as XLSX or CSV.",
    "parquet": "its content is Parquet, not a workbook. Rename it to .parquet.",
}


MARKS = {
    "zip": re.compile(rb"PK\x03\x04"),
    # A container of streams, or the bare stream of still older programs.
    "old": re.compile(rb"\xd0\xcf\x11\xe0|\x09[\x00\x02\x04\x08][\x04-\x10]\x00"),
    "parquet": re.compile(rb"PAR1"),
    "page": re.compile(rb"(?i)(?:\xef\xbb\xbf)?\s*<(?:!doctype|html|\?xml|table|meta|head)"),
}


def content_of(path: Path) -> str:
    """Return what the first bytes say: empty, zip, old, parquet, page or text."""
    with path.open("rb") as file:
        head = file.read(512)
    if not head:
        return "empty"
    return next((name for name, mark in MARKS.items() if mark.match(head)), "text")


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
    column = '"' + name.replace('"', '""') + '"'
    if kind in ("DOUBLE", "FLOAT"):
        return (f"case when not isfinite({column}) then null when {column} = trunc({column})"
                f" and abs({column}) < 1e15 then {column}::bigint::varchar"
                f" else {column}::varchar end")
    if kind == INSTANT:
        return f"({column} at time zone {literal(zone)})::varchar"
    return f"nullif({column}::varchar, '')"
