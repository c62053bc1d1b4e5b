"""Statements that differ between the logs only by their columns, generated from the catalogue."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence

from etl.load.columns import Column, Log
from etl.load.entered import FIRST_LOAD
from etl.load.folders import MAPPING
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
LOOKS = ("inspections", "teardowns")
"""Logs of looks at a hose. One entered in the pages after the data date counts at once, without
moving that date: it does not say that removals are on record up to its day."""
TOO_LATE = "lies after the data date"
ROW_NO = "(r.load_id::bigint * 1024 + r.entry_no) * 4294967296 + r.source_row"
"""One number for a row of a log: load, entry and row packed together."""
KNOWN_ON = (f"case when l.source_file = '{MAPPING}' then date '0001-01-01' "
            "else coalesce(l.exported_on, l.loaded_on) end")
"""Day that orders the rows of a key. A swap declared in the mapping stands in for rows that nobody
wrote: whatever a log says of the same hose, place and day goes over it."""
FIRST_ENTERED = FIRST_LOAD * 1024 * 4_294_967_296
"""From here on the rows that people entered in the pages are numbered."""


def _columns(log: Log) -> list[Column]:
    return [column for column in log.columns if column.name != "deleted"]


def _key_hash(log: Log, seed: str = "") -> str:
    """Return SQL for the hash of a row's key; `seed` makes a second, independent one."""
    natural = f"hash({', '.join(log.key)}{seed})"
    if log.name in REGISTERS:
        return natural
    return f"case when row_id is null then {natural} else hash(row_id, 'row_id'{seed}) end"


def _cells_hash(log: Log) -> str:
    """Return SQL for the hash of all that a row says."""
    return f"hash({', '.join(column.name for column in _columns(log))}, deleted)"


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
        f"{_key_hash(log)} as key_hash, reasons, cell_reasons\n{key} from (\n"
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
    nothing = _nothing(log, stored)
    names = "".join(f"{nothing.get(name, name)} as {name}, " if name in nothing else f"{name}, "
                    for name in (*(column.name for column in _columns(log)), "deleted"))
    days = [nothing.get(day, day) for day in EVENT_DAYS.get(log.name, ())]
    latest = f"greatest({', '.join(days)})" if days else "null::date"
    return (f"create or replace view clean.{log.name}_cells as\n"
            f"select (row_no >> 42)::integer as load_id, ((row_no >> 32) & 1023)::integer "
            f"as entry_no, row_no & 4294967295 as source_row, {names}point_no, row_no,\n"
            f"    {latest} as latest_on, key_hash, reasons, cell_reasons\n"
            f"from clean.{log.name}_filled")


def hashed_statement(log: Log) -> str:
    """Return the statement that makes ``clean.<log>_typed``: typed rows with a hash of their cells.

    A view, because only rows of irregular places, and those that come again, are asked for it.
    """
    return (f"create or replace view clean.{log.name}_typed as\n"
            f"select *, {_cells_hash(log)} as cells_hash from clean.{log.name}_cells")


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


def _is_good(log: Log) -> str:
    """Return the condition under which a typed row can be used by itself."""
    late = (f" and (latest_on is null or latest_on <= {_last_day(log)})"
            if log.name in EVENT_DAYS else "")
    return "reasons is null" + late


def _last_day(log: Log, as_of: str = "$as_of::date", looks_to: str = "$looks_to::date") -> str:
    """Return SQL for the last day that a row of a log may name."""
    if log.name not in LOOKS:
        return as_of
    return f"case when row_no < {FIRST_ENTERED} then {as_of} else {looks_to} end"


def repeated_statement(logs: Sequence[Log]) -> str:
    """Return the statement that gathers good rows whose key occurs again, and rows taken back.

    Parameters
    ----------
    logs : sequence of Log
        Logs whose typed tables stand.

    Returns
    -------
    str
        Makes ``clean.repeated``; takes ``$as_of`` and ``$looks_to`` where a log has event days.
    """
    # Every row has its load; by an outer join the planner leaves those for last, when few are left.
    parts = [
        f"select '{log.name}' as log, t.key_hash, {_key_hash(log, ', 1')} as key_check, t.row_no, "
        f"t.load_id, t.entry_no, t.source_row, {KNOWN_ON} as known_on, "
        f"t.deleted, {_cells_hash(log)} as cells_hash\n"
        f"from (select * from clean.{log.name}_cells where {_is_good(log)} and key_hash in (\n"
        f"    select key_hash from clean.{log.name}_cells where {_is_good(log)}\n"
        f"    group by key_hash having count(*) > 1 union all\n"
        f"    select key_hash from clean.{log.name}_cells\n"
        f"    where deleted and {_is_good(log)})) as t\n"
        f"left join raw.loads as l on l.load_id = t.load_id and l.entry_no = t.entry_no"
        for log in logs
    ]
    return "create or replace table clean.repeated as\n" + "\nunion all\n".join(parts)


def faults_statement(logs: Sequence[Log]) -> str:
    """Return the statement that lists every fault of every row that its own cells make.

    Parameters
    ----------
    logs : sequence of Log

    Returns
    -------
    str
        Makes ``clean.row_faults``; takes ``$as_of`` and ``$looks_to``.
    """
    parts = []
    for log in logs:
        parts.append(
            f"select '{log.name}' as log, row_no, load_id, entry_no, source_row, "
            f"unnest(reasons, recursive := true)\nfrom clean.{log.name}_typed "
            f"where reasons is not null")
        parts += [
            f"select '{log.name}', row_no, load_id, entry_no, source_row, '{day}', {day}::varchar, "
            f"'{TOO_LATE}'\nfrom clean.{log.name}_typed "
            f"where reasons is null and {day} > {_last_day(log)}"
            for day in EVENT_DAYS.get(log.name, ())
        ]
    return "create or replace table clean.row_faults as\n" + "\nunion all\n".join(parts)


def cell_faults_statement(logs: Sequence[Log]) -> str:
    """Return the statement that lists the cells left out of rows that stay.

    Parameters
    ----------
    logs : sequence of Log

    Returns
    -------
    str
        Makes ``clean.cell_faults``.
    """
    parts = [
        f"select '{log.name}' as log, row_no, load_id, entry_no, source_row, "
        f"unnest(cell_reasons, recursive := true)\nfrom clean.{log.name}_typed "
        f"where cell_reasons is not null"
        for log in logs
    ]
    return "create or replace table clean.cell_faults as\n" + "\nunion all\n".join(parts)


def latest_of_all_statement(logs: Sequence[Log]) -> str:
    """Return the query for the latest day in the logs; see `latest_statement`."""
    parts = [f"select max(latest_on) as latest_on from clean.{log.name}_cells where reasons is null"
             for log in logs]
    return f"select max(latest_on)\nfrom ({' union all '.join(parts)})"


def latest_statement(logs: Sequence[Log]) -> str:
    """Return the query for the latest believable day in the logs, and the latest of all.

    Parameters
    ----------
    logs : sequence of Log
        One or more of `EVENT_DAYS`.

    Returns
    -------
    str
        A query of one row. A day is believable when it does not lie after the file was exported
        or first loaded, whichever came later, and is not that of a look entered in the pages.
    """
    parts = [
        f"select t.latest_on, t.latest_on <= greatest(l.exported_on, l.loaded_on)"
        f"{f' and t.row_no < {FIRST_ENTERED}' if log.name in LOOKS else ''} as is_believable "
        f"from clean.{log.name}_cells as t join raw.loads as l "
        f"on l.load_id = t.load_id and l.entry_no = t.entry_no where t.reasons is null"
        for log in logs
    ]
    return ("select max(latest_on) filter (where is_believable), max(latest_on)\nfrom (\n"
            + "\nunion all\n".join(parts) + ")")


def clean_statement(log: Log) -> str:
    """Return the statement that keeps the current, good and possible rows of a log.

    Parameters
    ----------
    log : Log

    Returns
    -------
    str
        Makes ``clean.<log>``. For logs of events, which grow without end, and for the places, it is
        a view on the typed rows, so that these are not copied once more.
    """
    names = ", ".join(column.name for column in _columns(log))
    is_event = log.name in EVENT_DAYS
    is_long = is_event or log.name == "service_points"
    last = _last_day(log, "(select as_of from clean.data_date)",
                     "(select looks_to from clean.data_date)")
    late = f"\n    and latest_on <= {last}" if is_event else ""
    impossible = (
        f"\n    and row_no not in (select row_no from clean.impossible where log = '{log.name}')"
        if log.name == "replacements" else ""
    )
    return (
        f"create or replace {'view' if is_long else 'table'} clean.{log.name} as\n"
        f"select load_id, entry_no, source_row, {names}, row_no\n"
        f"from clean.{log.name}_typed\n"
        f"where reasons is null{late}\n"
        f"    and row_no not in (select row_no from clean.fates where log = '{log.name}')"
        + impossible
    )
