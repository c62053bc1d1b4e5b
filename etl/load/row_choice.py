"""Statements that choose among typed rows: which are good, which come again, which are current.

They are generated from the catalogue.
"""

from __future__ import annotations

from collections.abc import Sequence

from etl.load.columns import Log
from etl.load.entered import FIRST_LOAD
from etl.load.folders import MAPPING
from etl.load.typed_rows import EVENT_DAYS, cells_hash_of, columns_of_log, key_hash_of

LOOKS = ("inspections", "teardowns")
"""Logs of looks at a hose. One entered in the pages after the data date counts at once, without
moving that date: it does not say that removals are on record up to its day."""
TOO_LATE = "lies after the data date"
KNOWN_ON = (f"case when l.source_file = '{MAPPING}' then date '0001-01-01' "
            "else coalesce(l.exported_on, l.loaded_on) end")
"""Day that orders the rows of a key. A swap declared in the mapping stands in for rows that nobody
wrote: whatever a log says of the same hose, place and day goes over it."""
FIRST_ENTERED = FIRST_LOAD * 1024 * 4_294_967_296
"""From here on the rows that people entered in the pages are numbered."""


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
        f"select '{log.name}' as log, t.key_hash, {key_hash_of(log, ', 1')} as key_check, "
        f"t.row_no, t.load_id, t.entry_no, t.source_row, {KNOWN_ON} as known_on, "
        f"t.deleted, {cells_hash_of(log)} as cells_hash\n"
        f"from (select * from clean.{log.name}_cells where {_is_good(log)} and key_hash in (\n"
        f"    select key_hash from clean.{log.name}_cells where {_is_good(log)}\n"
        f"    group by key_hash having count(*) > 1 union all\n"
        f"    select key_hash from clean.{log.name}_cells\n"
        f"    where deleted and {_is_good(log)})) as t\n"
        f"left join raw.loads as l on l.load_id = t.load_id and l.entry_no = t.entry_no"
        for log in logs
    ]
    return "create or replace table clean.repeated as\n" + "\nunion all\n".join(parts)


def again_condition(log: Log, new: str) -> str:
    """Return the condition that a key of new rows of a log comes again, or is taken back.

    Parameters
    ----------
    log : Log
    new : str
        Table of new rows, which stand in ``clean.<log>_cells`` beside those that came before.
    """
    return (f"exists (from {new} where deleted) or exists (from clean.{log.name}_cells as c "
            f"join {new} as n on n.key_hash = c.key_hash and n.row_no <> c.row_no)")


def none_repeated_statement() -> str:
    """Return the statement that makes ``clean.repeated`` as it is where no key comes again."""
    return ("create or replace table clean.repeated as select ''::varchar as log, "
            "0::ubigint as key_hash, 0::ubigint as key_check, 0::bigint as row_no, "
            "0 as load_id, 0 as entry_no, 0::bigint as source_row, "
            "null::date as known_on, false as deleted, 0::ubigint as cells_hash limit 0")


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
        parts.append(_unnested(log, "reasons"))
        parts += [
            f"select '{log.name}', row_no, load_id, entry_no, source_row, '{day}', {day}::varchar, "
            f"'{TOO_LATE}'\nfrom clean.{log.name}_cells "
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
    parts = [_unnested(log, "cell_reasons") for log in logs]
    return "create or replace table clean.cell_faults as\n" + "\nunion all\n".join(parts)


def _unnested(log: Log, reasons: str) -> str:
    """Return the select of one row for each of the faults that a column lists."""
    return (f"select '{log.name}' as log, row_no, load_id, entry_no, source_row, "
            f"unnest({reasons}, recursive := true)\nfrom clean.{log.name}_cells "
            f"where {reasons} is not null")


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
    names = ", ".join(column.name for column in columns_of_log(log))
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
        f"from clean.{log.name}_cells\n"
        f"where reasons is null{late}\n"
        f"    and row_no not in (select row_no from clean.fates where log = '{log.name}')"
        + impossible
    )
