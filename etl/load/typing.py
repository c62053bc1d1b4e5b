"""From the text of the logs to typed rows, clean rows and lives.

The statements that differ only by a log's columns are generated from the catalogue; every rule
that is the same for all logs, and all that follows, stands in ``sql/clean`` and ``sql/lives``.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date
from typing import Any

import duckdb

from etl.errors import CheckError
from etl.load.columns import LOGS, Log
from etl.load.data_day import OTHERS, REGISTER, believable_days, last_look, latest_of
from etl.load.mapping import TypingOptions
from etl.load.no_day import READ_AS_NONE
from etl.load.row_choice import (
    cell_faults_statement,
    clean_statement,
    faults_statement,
    repeated_statement,
)
from etl.load.seeds import load_seeds
from etl.load.swaps import refuse_halves, refuse_untrue
from etl.load.typed_cells import NO_WORD
from etl.load.typed_rows import (
    PAIRED,
    cells_statement,
    hashed_statement,
    no_days_statement,
    stored_columns,
    typed_statement,
)
from etl.load.unless import run_needed
from etl.load.vocabulary import disputed_rows, key_rows, near_rows, remedy_rows, word_rows
from etl.load.warehouse import run_sql, run_text

UNKNOWN_WORDS = """
select log, column_name, value
from (select * from clean.row_faults union all select * from clean.cell_faults)
where reason = $reason and value is not null
group by log, column_name, value
order by count(*) desc, log, column_name, value
limit 1000
"""
"""The most frequent ones: for so many the nearest known word is looked up."""
FAULTS_ALONE = """
select f.source_row, f.column_name, f.value, f.reason, coalesce(r.remedy, 'Correct it.')
from (from clean.row_faults union all from clean.cell_faults) as f
left join clean.remedies as r using (log, column_name, reason)
order by f.source_row, f.column_name, f.reason
"""
OWN_NAMES = """
delete from clean.words where column_name = 'service_point' and list_contains($pooled, typing_group)
    and word in (select service_point from clean.points)
"""
NOTE_CELLS = (
    "delete from raw.corrections where what in (select what from clean.corrected_cells)",
    "insert into raw.corrections select * from clean.corrected_cells",
)


def build_clean(
    con: duckdb.DuckDBPyConnection, typing_groups: Mapping[int, TypingOptions],
    as_of: date | None = None,
) -> date:
    """Make the clean layer: typed, current, good rows, and every other row with its reason.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        The work database with the raw layer.
    typing_groups : mapping of int to TypingOptions
        How the files of each typing group are to be read.
    as_of : date or None
        The data date; rows dated later are refused. None takes
        `etl.load.data_day.default_as_of`.

    Returns
    -------
    date
        The data date that was used.

    Raises
    ------
    InputError
        No data date was given and no log holds a date, or a mapping declares words, units or
        date formats that cannot be used.
    """
    load_seeds(con)
    con.execute("delete from raw.corrections where what = $what", {"what": READ_AS_NONE})
    groups = groups_of_logs(con, typing_groups)
    make_words(con, groups)
    make_table(con, "remedies", ("log", "column_name", "reason", "remedy"), remedy_rows())
    make_table(con, "keys", ("log", "key_columns"), key_rows())
    _type_register(con, groups)
    _keep_own_names(con, typing_groups)
    for log in OTHERS:
        type_log(con, log, groups[log.name])
    refuse_halves(con)
    read = [log for log in LOGS.values() if groups[log.name]] or [REGISTER]
    is_untrue = True
    while is_untrue:  # each time without the swaps that turned out to be untrue
        days = believable_days(con)
        chosen = as_of or latest_of(con, *days)
        choose_rows(con, read, chosen, last_look(con, chosen, days))
        is_untrue = refuse_untrue(con)
    note_cells(con)
    for log in OTHERS:
        run_text(con, clean_statement(log))
    return chosen


def choose_rows(con: duckdb.DuckDBPyConnection, read: Sequence[Log], as_of: date,
                looks_to: date, left_out: Collection[str] = ()) -> None:
    """Find the current row of every key, what is wrong with the others, and which rows pair.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Holds ``clean.<log>_cells`` of `read`, ``clean.points`` and the tables of words.
    read : sequence of Log
        Logs that have rows.
    as_of, looks_to : date
        The data date, and the last day of a look entered in the pages.
    left_out : collection of str
        Tables of the layer that are made otherwise.
    """
    days = {"as_of": as_of, "looks_to": looks_to}
    if "repeated" not in left_out:
        run_text(con, repeated_statement(read), **days)
    run_text(con, faults_statement(read), **days)
    run_text(con, cell_faults_statement(read))
    unknown = con.execute(UNKNOWN_WORDS, {"reason": NO_WORD}).fetchall()
    make_table(con, "near_words", ("log", "column_name", "value", "word"), near_rows(unknown))
    run_needed(con, "clean", left_out, **days)
    run_text(con, "drop table clean.steps")  # read by that layer alone, and as long as the logs


def note_cells(con: duckdb.DuckDBPyConnection) -> None:
    """Let cells left out while typing stand among what was put right while reading."""
    for statement in NOTE_CELLS:
        run_text(con, statement)


def make_words(con: duckdb.DuckDBPyConnection,
               groups: Mapping[str, Mapping[int, TypingOptions]]) -> None:
    """Make the table of what the words of each log and typing group mean."""
    make_table(con, "words", ("log", "typing_group", "column_name", "word", "meaning"),
               word_rows(groups))
    make_table(con, "disputed_names", ("log", "typing_group", "name", "places"),
               disputed_rows(groups))


def type_alone(
    con: duckdb.DuckDBPyConnection, log: Log, options: TypingOptions, latest: date,
) -> list[tuple[int, str, str | None, str, str]]:
    """Type the rows of one log beside a register of places, and say what is wrong with them.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Holds ``raw.loads``, ``raw.service_points`` and the raw table of `log`.
    log : Log
        Any but the register of places.
    options : TypingOptions
        How its cells are written.
    latest : date
        No event can lie after it.

    Returns
    -------
    list of (source_row, column, value, reason, remedy)
        Faults of whole rows and of single cells alike. ``clean.<log>_cells`` stands.
    """
    groups = {name: {1: TypingOptions()} for name in LOGS} | {log.name: {1: options}}
    make_words(con, groups)
    make_table(con, "remedies", ("log", "column_name", "reason", "remedy"), remedy_rows())
    _type_register(con, groups)
    type_log(con, log, groups[log.name])
    run_text(con, faults_statement([log]), as_of=latest, looks_to=latest)
    run_text(con, cell_faults_statement([log]))
    return con.execute(FAULTS_ALONE).fetchall()


def _type_register(
    con: duckdb.DuckDBPyConnection, groups: Mapping[str, Mapping[int, TypingOptions]],
) -> None:
    """Type the register and number its places, by which the other logs are joined."""
    type_log(con, REGISTER, groups[REGISTER.name])
    run_text(con, repeated_statement([REGISTER]))
    run_sql(con, "clean/01_fates")
    run_text(con, clean_statement(REGISTER))
    run_sql(con, "clean/places/10_points")


def _keep_own_names(con: duckdb.DuckDBPyConnection,
                    typing_groups: Mapping[int, TypingOptions]) -> None:
    """Let names of entries stand for themselves where a place has that name now."""
    pooled = [number for number, options in typing_groups.items() if options.pooled_names]
    run_text(con, OWN_NAMES, pooled=pooled)


def type_log(
    con: duckdb.DuckDBPyConnection, log: Log, groups: Mapping[int, TypingOptions],
) -> None:
    """Type a log; columns that are empty in every row cost one count."""
    filled: set[str] = set()
    if groups:
        counted = ", ".join(f"count({name})" for name in log.names)
        counts = con.execute(f"select {counted} from raw.{log.name}").fetchone()
        filled = {name for name, n in zip(log.names, counts or (), strict=True) if n}
    for number, options in groups.items():
        noted = no_days_statement(log, number, options, filled)
        if noted is not None:
            run_text(con, noted)
    run_text(con, typed_statement(log, groups, filled))
    run_text(con, cells_statement(log, stored_columns(log, groups, filled)))
    if log.name in PAIRED:
        run_text(con, hashed_statement(log))


def build_lives(
    con: duckdb.DuckDBPyConnection, as_of: date, degraded_is_suspension: Sequence[str] = (),
) -> None:
    """Make the lives layer from the clean one.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        The work database after `build_clean`.
    as_of : date
        The data date that `build_clean` returned; open lives are suspended there.
    degraded_is_suspension : sequence of str
        Application classes in which a hose removed as degraded counts as a suspension; in all
        others it counts as a failure found in time.

    Raises
    ------
    CheckError
        The clean layer was made for another data date.
    """
    chosen = con.execute("select as_of from clean.data_date").fetchall()
    if chosen != [(as_of,)]:
        raise CheckError(f"lives: data date is {as_of}, but the clean rows were chosen for "
                         f"{chosen[0][0] if chosen else 'none'}. Build both for one date.")
    run_needed(con, "lives", as_of=as_of, degraded_is_suspension=sorted(degraded_is_suspension))


def groups_of_logs(
    con: duckdb.DuckDBPyConnection, typing_groups: Mapping[int, TypingOptions],
) -> dict[str, dict[int, TypingOptions]]:
    """Return the typing groups that each log's files belong to; none for a log without files."""
    found = con.execute("select log, typing_group from raw.loads "
                        "where status = 'loaded' and typing_group is not null").fetchall()
    groups: dict[str, dict[int, TypingOptions]] = {name: {} for name in LOGS}
    for log, number in sorted(set(found)):
        groups[log][number] = typing_groups[number]
    return groups


def make_table(con: duckdb.DuckDBPyConnection, name: str, columns: Sequence[str],
                rows: Sequence[tuple[Any, ...]]) -> None:
    """Make a small table ``clean.<name>`` from rows at hand."""
    listed = [[row[k] for row in rows] for k in range(len(columns))]
    values = ", ".join(f"unnest(${column}) as {column}" for column in columns)
    run_text(con, f"create or replace table clean.{name} as select {values}",
             **dict(zip(columns, listed, strict=True)))
