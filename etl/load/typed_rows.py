"""Statements that type the rows of a log, which differ between logs only by their columns.

They are generated from the catalogue.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence

from etl.load.columns import Column, Log
from etl.load.mapping import TypingOptions
from etl.load.no_day import noted_statement, stand_for_none, without
from etl.load.row_faults import REASONS, REGISTERS, faults_of, is_out, kept, reasons
from etl.load.typed_cells import BLANKS, SQL_TYPES, TypedCell, cells_of, has_words

EVENT_DAYS = {
    "installations": ("installed_on",),
    "replacements": ("removed_on",),
    "inspections": ("inspected_on",),
    "teardowns": ("examined_on", "removed_on"),
    "usage": ("read_on",),
    "stock": ("as_of",),
}
"""Days of things that have happened, which therefore cannot lie after the data date."""
PAIRED = ("installations", "replacements")
"""Logs of which rows are matched with each other."""
ROW_NO = "(r.load_id::bigint * 1024 + r.entry_no) * 4294967296 + r.source_row"
"""One number for a row of a log: load, entry and row packed together, so that it orders as they."""
# Also in sql/clean/01_fates.sql and sql/lives/31_stays.sql, which no generated text can reach.
PARTS_OF_ROW_NO = (
    "(row_no >> 42)::integer as load_id, ((row_no >> 32) & 1023)::integer as entry_no, "
    "row_no & 4294967295 as source_row")


def columns_of_log(log: Log) -> list[Column]:
    """Return the columns of a log that say something of its hoses and places."""
    return [column for column in log.columns if column.name != "deleted"]


def key_hash_of(log: Log, seed: str = "") -> str:
    """Return SQL for the hash of a row's key; `seed` makes a second, independent one."""
    natural = f"hash({', '.join(log.key)}{seed})"
    if log.name in REGISTERS:
        return natural
    return f"case when row_id is null then {natural} else hash(row_id, 'row_id'{seed}) end"


def cells_hash_of(log: Log) -> str:
    """Return SQL for the hash of all that a row says."""
    return f"hash({', '.join(column.name for column in columns_of_log(log))}, deleted)"


def typed_statement(log: Log, groups: Mapping[int, TypingOptions],
                    filled: Collection[str] | None = None) -> str:
    """Return the statement that types a log and notes, in the same pass, what is wrong with a row.

    Parameters
    ----------
    log : Log
    groups : mapping of int to TypingOptions
        The typing groups that have files of this log; none makes an empty table.
    filled : collection of str or None
        Columns in which some row has a cell; None takes all for filled.

    Returns
    -------
    str
        Makes ``clean.<log>_filled``: the columns of the catalogue that hold something, ``reasons``
        (NULL for a good row, else a list of column, value and reason), and keys for the steps that
        follow.
    """
    typed = {number: cells_of(log, options, filled) for number, options in sorted(groups.items())}
    stored = stored_columns(log, groups, filled)
    parts = [_typed_group(log, number, groups[number], cells, stored, len(groups) > 1)
             for number, cells in typed.items()] or [_no_rows()]
    nothing = _nothing(log, stored)
    key = "from (select *" + "".join(f", {cell} as {name}" for name, cell in nothing.items()
                                     if name in (*log.key, "row_id"))
    return (
        f"create or replace table clean.{log.name}_filled as\n"
        f"select {''.join(f'{name}, ' for name in stored)}point_no, row_no, "
        f"{key_hash_of(log)} as key_hash, reasons, cell_reasons\n{key} from (\n"
        + "\nunion all\n".join(parts) + "\n))"
    )


def stored_columns(log: Log, groups: Mapping[int, TypingOptions],
                   filled: Collection[str] | None) -> list[str]:
    """Return the columns of a log that hold something; see `typed_statement`."""
    read = {name for options in groups.values()
            for name, cell in cells_of(log, options, filled).items() if cell.is_read}
    return [column.name for column in log.columns if column.name in read]


def _nothing(log: Log, stored: Collection[str]) -> dict[str, str]:
    """Return what columns are that hold nothing."""
    return {column.name: "false" if column.name == "deleted"
            else f"null::{SQL_TYPES[column.kind]}"
            for column in log.columns if column.name not in stored}


def cells_statement(log: Log, stored: Collection[str]) -> str:
    """Return the statement that makes ``clean.<log>_cells``: typed rows with all their columns.

    A view: what can be told of the number of a row, or of no row at all, is not written down.

    Parameters
    ----------
    log : Log
    stored : collection of str
        As of `stored_columns`.
    """
    return (f"create or replace view clean.{log.name}_cells as\n"
            + cells_select(log, stored, f"clean.{log.name}_filled"))


def cells_select(log: Log, stored: Collection[str], source: str) -> str:
    """Return the select of `cells_statement` from any table of filled columns."""
    nothing = _nothing(log, stored)
    names = "".join(f"{nothing.get(name, name)} as {name}, " if name in nothing else f"{name}, "
                    for name in (*(column.name for column in columns_of_log(log)), "deleted"))
    days = [nothing.get(day, day) for day in EVENT_DAYS.get(log.name, ())]
    latest = f"greatest({', '.join(days)})" if days else "null::date"
    return (f"select {PARTS_OF_ROW_NO}, {names}point_no, row_no,\n"
            f"    {latest} as latest_on, key_hash, reasons, cell_reasons\n"
            f"from {source}")


def hashed_statement(log: Log) -> str:
    """Return the statement that makes ``clean.<log>_hashed``: rows with a hash of their cells.

    A view, because only rows of irregular places are asked for it; for logs of `PAIRED` alone.
    """
    return (f"create or replace view clean.{log.name}_hashed as\n"
            f"select *, {cells_hash_of(log)} as cells_hash from clean.{log.name}_cells")


def _no_rows() -> str:
    """Return a select of no row with what a typing group gives beside the columns of its log."""
    return (f"(select null::integer as point_no, null::bigint as row_no, "
            f"null::{REASONS} as reasons, null::{REASONS} as cell_reasons limit 0)")


def _typed_group(log: Log, number: int, options: TypingOptions, cells: Mapping[str, TypedCell],
                 stored: Sequence[str], is_one_of_many: bool) -> str:
    """Return the select that types the rows of one typing group."""
    faults = faults_of(log, cells, "service_point" in options.words)
    # A column without a cell is carried only where a condition asks for it: each has its cost.
    asked = " ".join(fault.condition for fault in faults)
    read = "".join(f", r.{c.name}, {_trimmed(c, options)} as s_{c.name}"
                   for c in log.columns if cells[c.name].is_read)
    values = "".join(f", {cell.value} as t_{name}" for name, cell in cells.items()
                     if cell.is_read or re.search(rf"\bt_{name}\b", asked))
    marks = "".join(f", {cell.marked} as m_{name}" for name, cell in cells.items() if cell.marked)
    deleted = "coalesce(t_deleted, false)" if cells["deleted"].is_read else "false"
    result = "".join(
        f"{deleted if name == 'deleted' else kept(name, cells[name], faults)} as {name}, "
        for name in stored)
    is_by_number = log.name not in REGISTERS and cells["row_id"].is_read
    taken_back = f"{deleted} and t_row_id is not null" if is_by_number else "false"
    point, joined = "null::integer", ""
    if log.name != "service_points" and "service_point" in cells:
        point = "p.point_no"
        joined = "\n        left join clean.points as p on p.service_point = t.t_service_point"
    chosen = f"\n        where {_of_group(log, number)}" if is_one_of_many else ""
    return (
        f"(with cells as (select r.load_id, r.entry_no, r.source_row, {ROW_NO} as row_no{read}\n"
        f"        from raw.{log.name} as r{chosen}),\n"
        f"    typed as (select cells.*{values}\n"
        f"        from cells{_lookups(log, number, options, cells)}),\n"
        f"    marked as (select t.*, {point} as point_no, {taken_back} as is_taken_back{marks}\n"
        f"        from typed as t{joined}),\n"
        f"    judged as (select t.*, {is_out(faults)} as is_out from marked as t)\n"
        f"    select {result}t.point_no, t.row_no,\n"
        f"    {reasons(faults)}\n    from judged as t)"
    )


def _of_group(log: Log, number: int) -> str:
    """Return the condition of the rows of one typing group."""
    return ("(r.load_id, r.entry_no) in (select (load_id, entry_no) from raw.loads "
            f"where log = '{log.name}' and typing_group = {number})")


def no_days_statement(log: Log, number: int, options: TypingOptions,
                      filled: Collection[str]) -> str | None:
    """Return the statement that notes the cells of a typing group that stood for no day.

    Parameters
    ----------
    log : Log
    number : int
        Of the typing group.
    options : TypingOptions
    filled : collection of str
        Columns in which some row has a cell.

    Returns
    -------
    str or None
        None where no column can hold such a cell.
    """
    found = {column.name: (_bare(column, options), stand_for_none(column, options))
             for column in log.columns if column.kind == "date" and column.name in filled}
    found = {name: how for name, how in found.items() if how[1]}
    return noted_statement(log, found, _of_group(log, number)) if found else None


def _trimmed(column: Column, options: TypingOptions) -> str:
    """Return SQL for a cell without outer blanks; NULL when empty or when it stands for no date."""
    text = _bare(column, options)
    listed = stand_for_none(column, options) if column.kind == "date" else ()
    return without(text, listed) if listed else text


def _bare(column: Column, options: TypingOptions) -> str:
    """Return SQL for a cell without outer blanks; NULL when empty.

    Most cells begin and end with a plain visible sign; only the others pay for the slow trim.
    Texts compare by their bytes, which costs less than to look signs up by number.
    """
    cell = f"r.{column.name}"
    if not options.may_hold_blanks:
        return cell
    return (f"case when {cell} >= '!' and {cell} < chr(127) and substring({cell}, -1) "
            f"between '!' and '~' then {cell} else nullif(trim({cell}, {BLANKS}), '') end")


def _lookups(log: Log, number: int, options: TypingOptions,
             cells: Mapping[str, TypedCell]) -> str:
    """Return the joins that find the meaning of words."""
    joins = ""
    for column in log.columns:
        name = column.name
        words = (f"from clean.words where log = '{log.name}' and typing_group = {number} "
                 f"and column_name = '{name}'")
        if cells[name].is_read and has_words(column, options):
            joins += (f"\n        left join (select word, meaning {words}) as w_{name} "
                      f"on w_{name}.word = {_looked_up(column)}")
    return joins


def _looked_up(column: Column) -> str:
    """Return SQL for the cell as it stands in the list of words: tags differ by their case."""
    cell = f"coalesce(s_{column.name}, '')"
    return cell if column.kind == "tag" else f"lower({cell})"
