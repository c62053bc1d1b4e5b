"""The last day that the logs are complete to, as far as their rows tell."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import duckdb

from etl.load.columns import LOGS, Log
from etl.load.entered import FIRST_LOAD
from etl.load.nothing import no_day
from etl.load.row_choice import latest_of_all_statement, latest_statement
from etl.load.typed_rows import EVENT_DAYS

REGISTER = LOGS["service_points"]
"""Read first: the other logs name its places."""
OTHERS = tuple(log for log in LOGS.values() if log is not REGISTER)


def default_as_of(con: duckdb.DuckDBPyConnection) -> date:
    """Return the data date to use when none is given: the latest day in the logs.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        The work database with the typed logs.

    Returns
    -------
    date
        The latest day of an installation, removal, inspection, teardown, reading or count. A day
        after its file was exported and loaded is a slip of the pen and does not count, nor does
        one of a look entered in the pages, unless there is no other.

    Raises
    ------
    InputError
        No log holds a day.
    """
    return latest_of(con, *believable_days(con))


def believable_days(
    con: duckdb.DuckDBPyConnection, logs: Sequence[Log] = OTHERS,
) -> tuple[date | None, date | None]:
    """Return the latest believable day in typed logs and the latest of all, if any."""
    dated = [log for log in logs if log.name in EVENT_DAYS]
    if not dated:
        return None, None
    # Nearly always all days lie before all files: then no row has to be looked at beside its own.
    bound = con.execute("select min(greatest(exported_on, loaded_on)), max(load_id) from raw.loads"
                        ).fetchone()
    latest = con.execute(latest_of_all_statement(dated)).fetchall()[0][0]
    if latest is None:
        return None, None
    if bound and bound[0] and latest <= bound[0] and bound[1] < FIRST_LOAD:
        return latest, latest
    return con.execute(latest_statement(dated)).fetchall()[0]


def latest_of(con: duckdb.DuckDBPyConnection, believable: date | None,
              latest: date | None) -> date:
    """Return the data date to use when none is given; see `default_as_of`."""
    found = believable or latest
    if found is None:
        raise no_day(con)
    return found


def last_look(con: duckdb.DuckDBPyConnection, as_of: date,
              days: tuple[date | None, date | None]) -> date:
    """Return the last day that looks entered in the pages may name: the last day of entering.

    An edition made again for an earlier day than the logs reach (`days`, of `believable_days`)
    knows nothing later.
    """
    row = con.execute("select max(loaded_on) from raw.loads where load_id >= $first",
                      {"first": FIRST_LOAD}).fetchone()
    if row is None or row[0] is None or row[0] <= as_of or as_of < latest_of(con, *days):
        return as_of
    return date(row[0].year, row[0].month, row[0].day)
