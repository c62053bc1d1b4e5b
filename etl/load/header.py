"""Find the header row and the delimiter of a table from its first records."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

from etl.errors import InputError
from etl.load.extract import Dialect, Wanted, folded

DELIMITERS = (",", ";", "\t", "|")
"""In order of preference where two of them fit equally well."""
RECORDS_LOOKED_AT = 40
"""A header further down must be declared as header_row."""
GAPS = frozenset(("na", "n/a", "nan", "null", "none", "-", "#n/a"))
"""What programs write into a cell without a value; no column is called so."""
MOST_COLUMNS = 4_000
"""Reading slows down with the square of the columns; no log has as many."""


@dataclass(frozen=True)
class Header:
    """Where the columns are named and how."""

    record: int
    """Number of the record, from 1."""
    names: tuple[str, ...]
    delimiter: str = ","


def find_header(records: Sequence[Sequence[str]], wanted: Wanted, row: int | None) -> Header | None:
    """Pick the record that names the columns.

    Parameters
    ----------
    records : sequence of sequences of str
        First records of the file.
    wanted : Wanted
        Names that a header would hold.
    row : int or None
        Declared number of the header record.

    Returns
    -------
    Header or None
        The declared record; else the first one that holds most of the wanted names; else the
        first one with most words in it. None where every record is blank.
    """
    if row is not None:
        cells = records[row - 1] if 0 < row <= len(records) else []
        return Header(row, _names(cells)) if any(cell.strip() for cell in cells) else None
    best, best_rank = None, (-1, -1)
    for number, cells in enumerate(records[:RECORDS_LOOKED_AT], start=1):
        if any(cell.strip() for cell in cells):
            n_known = wanted.fit(cells)[1]
            # Where nothing is known, names are the first row with most words in it.
            rank = (n_known, 0 if n_known else _n_words(cells))
            if rank > best_rank:
                best, best_rank = Header(number, _names(cells)), rank
    return best


def find_dialect(text: str, whole: bool, wanted: Wanted, dialect: Dialect) -> Header | None:
    """Pick delimiter and header record from the beginning of a text file.

    Parameters
    ----------
    text : str
        Beginning of the file.
    whole : bool
        True where `text` is the whole file; else its last record may be cut and is left aside.
    wanted : Wanted
        Names that a header would hold.
    dialect : Dialect
        What the mapping declares.

    Returns
    -------
    Header or None
        None where every record is blank.
    """
    best: Header | None = None
    best_rank = (-1, -1)
    for delimiter in (dialect.delimiter,) if dialect.delimiter else DELIMITERS:
        records = first_records(text, whole, delimiter, n_looked_at(dialect.header_row))
        found = find_header(records, wanted, dialect.header_row)
        if found is None:
            continue
        rank = (wanted.fit(records[found.record - 1])[1], len(found.names))
        if rank > best_rank:
            best, best_rank = Header(found.record, found.names, delimiter), rank
    return best


def n_looked_at(row: int | None) -> int:
    """Return how many records are read in search of the header; `row` is the declared one."""
    return max(2 * RECORDS_LOOKED_AT, row or 0)


def first_records(
    text: str, whole: bool, delimiter: str, n_records: int = 2 * RECORDS_LOOKED_AT
) -> list[list[str]]:
    """Split the beginning of a file into records; blank ones are empty lists."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    records: list[list[str]] = []
    try:
        for cells in reader:
            records.append(cells)
            if len(records) > n_records:
                return records
    except csv.Error:
        return records
    return records if whole or len(records) < 2 else records[:-1]


def narrowed(file: str, header: Header) -> Header:
    """Leave off the columns to the right that have no name, where a table is absurdly wide.

    Raises
    ------
    InputError
        There are too many columns with names.
    """
    n_named = max((i for i, name in enumerate(header.names, start=1) if name), default=0)
    if n_named > MOST_COLUMNS:
        raise InputError(
            f"{file} row {header.record}: names {n_named:,} columns, more than {MOST_COLUMNS:,}."
            " Export only the columns that are needed."
        )
    if len(header.names) <= MOST_COLUMNS:
        return header
    return Header(header.record, header.names[:n_named], header.delimiter)


def check_names(file: str, header: Header, used: frozenset[str]) -> None:
    """Refuse a header in which a used name stands twice.

    Raises
    ------
    InputError
        Two columns of one used name cannot be told apart.
    """
    seen: dict[str, int] = {}
    for position, name in enumerate(header.names, start=1):
        key = folded(name)
        if key and key in seen and key in used:
            raise InputError(
                f"{file} row {header.record}: columns {seen[key]} and {position} are both called"
                f" {name!r}. Rename one of them in the file."
            )
        seen.setdefault(key, position)


def over_rows(head: Sequence[Sequence[str]], header: Header, wanted: Wanted,
              merged: Sequence[tuple[tuple[int, int], tuple[int, int]]]) -> Header:
    """Take all rows of a header whose cells are merged over several rows.

    Parameters
    ----------
    head : sequence of sequences of str
        First rows of the sheet; a cell merged over several rows stands in each of them.
    header : Header
        One row of the header.
    wanted : Wanted
    merged : sequence of ((row, column), (row, column))
        First and last cell of each merged range, from 0, by the columns of `head`.

    Returns
    -------
    Header
        The last of these rows. A column without a name there has that of the row above; where two
        would be called the same, the heading above them goes before. `header` itself where no
        cell reaches over several rows, or fewer wanted names would be there.
    """
    row = header.record - 1
    last = max((bottom for (top, _), (bottom, _) in merged if top <= row <= bottom < len(head)),
               default=row)
    first = min((top for (top, _), (bottom, _) in merged if top < bottom == last), default=last)
    if first == last and _stands_below(head, last, merged):
        first = last - 1
    if first == last:
        return header
    rows = [list(_names(cells)) for cells in head[first:last + 1]]
    heading = [list(cells) for cells in rows[:-1]]
    for (top, left), (bottom, right) in merged:
        if first <= top == bottom < last:
            for column in range(max(left, 0), min(right + 1, len(heading[top - first]))):
                heading[top - first][column] = rows[top - first][max(left, 0)]
    names = [name or next((cells[k] for cells in rows[-2::-1] if cells[k]), "")
             for k, name in enumerate(rows[-1])]
    names = [" ".join(dict.fromkeys([*(cells[k] for cells in heading if cells[k]), name]))
             if name and names.count(name) > 1 else name for k, name in enumerate(names)]
    found = Header(last + 1, tuple(names), header.delimiter)
    return found if wanted.fit(found.names)[1] >= wanted.fit(header.names)[1] else header


def _stands_below(head: Sequence[Sequence[str]], row: int,
                  merged: Sequence[tuple[tuple[int, int], tuple[int, int]]]) -> bool:
    """Say whether a row names columns alike that headings merged across them tell apart."""
    names = [folded(name) for name in _names(head[row]) if name]
    return row > 0 and len(set(names)) < len(names) and any(
        top == bottom == row - 1 and left < right for (top, left), (bottom, right) in merged)


def _names(cells: Sequence[str]) -> tuple[str, ...]:
    """Trim the names; a name broken over lines becomes one line."""
    return tuple(" ".join(cell.replace("\ufeff", "").split()) for cell in cells)


def _n_words(cells: Sequence[str]) -> int:
    """Count the cells that are words rather than numbers, dates or gaps; names may repeat."""
    texts = [cell.strip() for cell in cells]
    return sum(bool(text) and not text[0].isdigit() and text.casefold() not in GAPS
               for text in texts)
