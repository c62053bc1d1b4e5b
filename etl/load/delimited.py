"""Read delimited text into a staging table: fast where it adds up, record by record elsewhere."""

from __future__ import annotations

import codecs
from dataclasses import dataclass
from pathlib import Path

import duckdb

from etl.errors import InputError
from etl.load.crowded import is_crowded
from etl.load.decode import make_plain
from etl.load.extract import SHOWN, UNREADABLE_COLUMNS, Correction, Dialect, Extract, Wanted
from etl.load.header import Header, check_names, find_dialect, narrowed
from etl.load.recount import recount
from etl.load.scan import Scan, scan

MISREAD = 20
"""Up to so many unreadable records are reported one by one, however short the file."""
LONGEST_ROW = 16_000_000
"""Bytes of all cells of a row."""
HEAD_BYTES = 1 << 18
"""The header must lie within the first 256 KiB."""
LONGEST_NAME = 10_000
"""Signs of a column's name; longer ones come of a quote left open, and would fill any message."""

READ_TEXT = """
select * from read_csv(
    $path, auto_detect = false, header = false, skip = $skip, delim = $delimiter,
    quote = '"', escape = '"', encoding = 'utf-8', columns = $columns, strict_mode = true,
    null_padding = false, store_rejects = true, rejects_table = 'reader_faults',
    rejects_scan = 'reader_files', rejects_limit = 0)
"""
FAULTS = """
select line as source_row, '' as column_name, left(ltrim(csv_line, chr(10)), $shown) as value,
    case error_type
        when 'MISSING COLUMNS' then 'fewer cells than the header names'
        when 'TOO MANY COLUMNS' then 'more cells than the header names'
        when 'UNQUOTED VALUE' then 'text after a closing quote'
        else lower(error_type::varchar) end as reason,
    case error_type
        when 'UNQUOTED VALUE' then 'Double the quotes inside the cell.'
        else 'Complete the row, or quote the cell that holds the delimiter.' end as remedy
from reader_faults
qualify row_number() over (partition by line order by error_type, column_idx, byte_position) = 1
order by source_row
"""
ROW_MAP = """
create table {mapped} as
select staged.*, staged.rowid + $first + coalesce(shifts.n, 0) as source_row
from {table} as staged
asof left join (select unnest($keys::bigint[]) as key, unnest($counts::bigint[]) as n) as shifts
    on staged.rowid >= shifts.key
order by staged.rowid
"""


@dataclass(frozen=True)
class Job:
    """One file to be read into one pair of staging tables."""

    con: duckdb.DuckDBPyConnection
    path: Path
    file: str
    """Name for messages."""
    table: str
    """Staging table to make; its faults go into ``<table>_faults``."""
    folder: Path
    """Folder for temporary files."""
    wanted: Wanted
    dialect: Dialect

    @property
    def faults(self) -> str:
        """Name of the table of unreadable records."""
        return f"{self.table}_faults"


def read_delimited(job: Job) -> Extract:
    """Read a CSV or TSV file as text.

    Parameters
    ----------
    job : Job

    Returns
    -------
    Extract
        Every record is a row, unreadable, blank, above the header, or the header.

    Raises
    ------
    InputError
        The file is empty, has no header, is not in the declared encoding, or a quoted cell is
        never closed.
    """
    scanned = scan(job.path)
    plain = make_plain(
        job.path, job.file, job.dialect.encoding, scanned, job.folder / f"{job.table}.plain"
    )
    if plain.is_rewritten:
        scanned = scan(plain.path)
    found = _header(job, plain.path)
    header = narrowed(job.file, found)
    check_names(job.file, header, job.wanted.names)
    extract = None
    is_doubtful = (scanned.ends_in_quote or scanned.n_nul > 0 or scanned.has_long_record
                   or header is not found
                   or is_crowded(plain.path, header.delimiter, len(header.names)))
    if not is_doubtful and len(header.names) > 1:
        extract = _fast(job, plain.path, header, scanned)
        if extract is not None:
            extract.may_hold_blanks = scanned.may_hold_outer_blanks(header.delimiter)
    if extract is None:
        extract = _careful(job, plain.path, header)
    if plain.is_rewritten:
        plain.path.unlink()
    _refuse_misread(job, extract)
    extract.corrections.extend(plain.corrections)
    extract.may_hold_marks = scanned.n_error_marks > 0
    extract.may_hold_powers = scanned.has_power
    return extract


def _refuse_misread(job: Job, extract: Extract) -> None:
    """Refuse a file of which most records do not fit its header: it was not written that way."""
    n_faulty = extract.n_unreadable
    if n_faulty is None:
        n_faulty = extract.n_unreadable = _count(job.con, job.faults)
    if n_faulty > MISREAD and n_faulty > _count(job.con, job.table):
        first = job.con.execute(
            f"select source_row, reason from {job.faults} order by source_row limit 1").fetchone()
        row, reason = first or (0, "")
        _drop(job)
        raise InputError(
            f"{job.file} row {row}: {reason}, and so in {n_faulty:,} of {extract.n_records:,}"
            " records. Declare delimiter or header_row in its [[file]] entry, or export it again."
        )


def _header(job: Job, path: Path) -> Header:
    """Find delimiter and header in the beginning of the file."""
    with path.open("rb") as handle:
        head = handle.read(HEAD_BYTES)
        whole = not handle.read(1)
    if not head.strip():
        raise InputError(f"{job.file}: the file is empty. Export it again.")
    text = codecs.getincrementaldecoder("utf-8-sig")("replace").decode(head, whole)
    found = find_dialect(text, whole, job.wanted, job.dialect)
    if found is None:
        row = job.dialect.header_row
        raise InputError(
            f"{job.file}: no column names found"
            + (f" in row {row}. Correct header_row." if row else ". Add a header row.")
        )
    longest = max(map(len, found.names), default=0)
    if longest > LONGEST_NAME:
        raise InputError(
            f"{job.file}: the header holds a cell of {longest:,} signs or more, which is no column"
            " name. Close the quotes of the first lines, or add a header row.")
    return found


def _fast(job: Job, path: Path, header: Header, scanned: Scan) -> Extract | None:
    """Read with the parallel reader; None where its rows do not add up with the records."""
    con = job.con
    try:
        con.execute(f"create or replace table {job.table} as {READ_TEXT}", {
            "path": escaped(path), "skip": header.record, "delimiter": header.delimiter,
            "columns": {f"c{i}": "VARCHAR" for i in range(len(header.names))},
        })
    except duckdb.InvalidInputException:
        _drop(job)
        con.execute("drop table if exists reader_faults; drop table if exists reader_files")
        return None
    faulty = _faulty(job)
    n_rows = _count(con, job.table)
    blanks = [number for number in scanned.blanks if number > header.record]
    if n_rows + len(faulty) + len(blanks) + header.record != scanned.n_records:
        _drop(job)
        return None
    row_number = _number_rows(job, header.record, sorted({*faulty, *blanks}), scanned.n_records)
    return Extract(job.table, job.faults, header.names, row_number, scanned.n_records, len(blanks),
                   *_above(header), n_rows=n_rows, n_unreadable=len(faulty))


def _faulty(job: Job) -> list[int]:
    """Make the table of records that the reader refused; return their numbers in order."""
    if _count(job.con, "reader_faults"):
        job.con.execute(f"create or replace table {job.faults} as {FAULTS}", {"shown": SHOWN})
        found = job.con.execute(f"select source_row from {job.faults} order by source_row")
        numbers = [number for number, in found.fetchall()]
    else:
        job.con.execute(f"create or replace table {job.faults} ({UNREADABLE_COLUMNS})")
        numbers = []
    job.con.execute("drop table reader_faults; drop table reader_files")
    return numbers


def _number_rows(job: Job, header_row: int, removed: list[int], n_records: int) -> str:
    """Return the record number as an expression, storing it where records are missing between."""
    first = header_row + 1
    while removed and removed[-1] == n_records:
        removed.pop()
        n_records -= 1
    if not removed:
        return f"rowid + {first}"
    # A record that was removed shifts all rows after it. `key` is the number of kept rows before
    # the removed one; of several with one key the last has the whole shift.
    shift = {number - first - i: i + 1 for i, number in enumerate(removed)}
    mapped = f"{job.table}_numbered"
    job.con.execute(ROW_MAP.format(mapped=mapped, table=job.table), {
        "first": first, "keys": list(shift), "counts": list(shift.values())})
    job.con.execute(f"drop table {job.table}")
    job.con.execute(f"alter table {mapped} rename to {job.table.split('.')[-1]}")
    return "source_row"


def _careful(job: Job, path: Path, header: Header) -> Extract:
    """Read record by record, then load what was written."""
    kept, refused = job.folder / f"{job.table}.rows", job.folder / f"{job.table}.refused"
    count = recount(path, job.file, header, kept, refused)
    load_numbered(job, kept, refused, len(header.names))
    return Extract(job.table, job.faults, header.names, "source_row", count.n_records,
                   count.n_blank, *_above(header))


def load_numbered(job: Job, kept: Path, refused: Path | None, n_columns: int) -> None:
    """Load rows that carry their record number in front, and the records refused beside them."""
    _drop(job)
    cells = ", ".join(f"c{i} varchar" for i in range(n_columns))
    job.con.execute(f"create table {job.table} (source_row bigint, {cells})")
    job.con.execute(f"create table {job.faults} ({UNREADABLE_COLUMNS})")
    for path, table in ((kept, job.table), (refused, job.faults)):
        if path is not None:
            try:
                job.con.execute(
                    f"insert into {table} select * from read_csv($path, auto_detect = false,"
                    " header = false, delim = ',', quote = '\"', escape = '\"', columns = $columns,"
                    f" max_line_size = {LONGEST_ROW})",
                    {"path": escaped(path), "columns": _types(job, table)},
                )
            except duckdb.InvalidInputException as exc:
                raise InputError(
                    f"{job.file}: a row is longer than {LONGEST_ROW:,} bytes. Shorten its cells."
                ) from exc
            path.unlink()


def _types(job: Job, table: str) -> dict[str, str]:
    """Return the columns of a table for the reader."""
    rows = job.con.execute(f"describe {table}").fetchall()
    return {row[0]: row[1] for row in rows}


def _above(header: Header) -> tuple[int, list[Correction]]:
    """Account for the records above the header."""
    n_above = header.record - 1
    if n_above == 0:
        return 0, []
    return n_above, [Correction(None, "rows above the header left out", n_above)]


def _count(con: duckdb.DuckDBPyConnection, table: str) -> int:
    """Count the rows of a table."""
    row = con.execute(f"select count(*) from {table}").fetchone()
    return int(row[0]) if row else 0


def _drop(job: Job) -> None:
    """Remove the staging tables of an attempt."""
    job.con.execute(f"drop table if exists {job.table}; drop table if exists {job.faults}")


def escaped(path: Path) -> str:
    """Return a path in which a glob pattern matches that one file only."""
    return "".join(f"[{sign}]" if sign in "*?[" else sign for sign in str(path))
