"""Hoses that changed places, declared in the mapping: rows of the logs that nobody wrote down."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import duckdb

from etl.load.folders import MAPPING
from etl.load.place_history import Swap
from etl.load.row_faults import REASONS
from etl.load.warehouse import run_text

REASON = "relocated"
LOGS_OF_SWAPS = ("installations", "replacements")
TAGGED = "has a tag by the logs, but the swap names no hoses"
IN_PART = "belongs to a swap of which another row is refused"
OTHER_HOSE = "another hose is there by the logs"
OF_SWAPS = f"load_id in (select load_id from raw.loads where source_file = '{MAPPING}')"
SWAP = "load_id, (source_row - 2) // 2"
"""Tells swaps apart: each gives two rows to each of the logs, in the order of declaration."""
TAGGED_MADE = f"""
select t.row_no, arg_max_null(i.hose_id, (i.installed_on, i.row_no)) as tag
from raw.replacements as r
join clean.replacements_cells as t using (load_id, entry_no, source_row)
join clean.installations_cells as i on i.point_no = t.point_no and i.installed_on <= t.removed_on
where r.{OF_SWAPS} and r.hose_id = r.service_point || ' until ' || r.removed_on
    and i.reasons is null and not i.deleted
    and (i.load_id, (i.source_row - 2) // 2) <> (r.load_id, (r.source_row - 2) // 2)
group by t.row_no
"""
"""Hoses of swaps that name none, with the tag of the hose that went in last there."""
UNTRUE = f"""
select s.row_no, coalesce(min(i.reason), '{OTHER_HOSE}') as reason
from clean.unpaired as u
join clean.replacements_cells as t on t.row_no = u.removal_no
join (from clean.replacements_cells where reasons is null and {OF_SWAPS}) as s
    on s.point_no = t.point_no and s.removed_on = t.removed_on
    and s.hose_id is not distinct from t.hose_id
left join clean.impossible as i on i.row_no = u.removal_no
left join clean.installations_cells as o on o.row_no = u.installation_no
where i.row_no is not null or (u.cause = 'tag mismatch' and o.installed_on < s.removed_on)
group by s.row_no
"""
"""Removals of swaps that other rows speak against, be it that a log says the same removal.

A hose that goes in on the day itself may be the other one of the swap."""


class Move(NamedTuple):
    """One hose that came out of a place, or went in, on the day of a swap."""

    on: str
    service_point: str
    hose_id: str


def moves(swaps: Sequence[Swap]) -> tuple[list[Move], list[Move]]:
    """Return the removals and the installations that swaps stand for.

    Parameters
    ----------
    swaps : sequence of Swap

    Returns
    -------
    tuple of list of Move
        Two removals and two installations a swap, in the order of their declaration. A hose
        without a tag gets one made of place and day, so that it keeps its age.

    Examples
    --------
    >>> import datetime as dt
    >>> swap = Swap(on=dt.date(2024, 3, 1), places=["P1", "P2"], hoses=["A", "B"])
    >>> [(move.service_point, move.hose_id) for move in moves([swap])[1]]
    [('P2', 'A'), ('P1', 'B')]
    """
    out, into = [], []
    for swap in swaps:
        day = swap.on.isoformat()
        tags = swap.hoses or [made_tag(place, day) for place in swap.places]
        out += [Move(day, place, tag) for place, tag in zip(swap.places, tags, strict=True)]
        into += [Move(day, place, tag)
                 for place, tag in zip(reversed(swap.places), tags, strict=True)]
    return out, into


def made_tag(service_point: str, day: str) -> str:
    """Return the tag of a hose that has none of its own: where it sat until its swap."""
    return f"{service_point} until {day}"


def insert_moves(con: duckdb.DuckDBPyConnection, load_id: int, swaps: Sequence[Swap]) -> int:
    """Put the rows of swaps into the raw layer; they are numbered like rows of a file.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    load_id : int
        Number under which the mapping stands in ``raw.loads``.
    swaps : sequence of Swap

    Returns
    -------
    int
        Rows put into each of the two logs.
    """
    out, into = moves(swaps)
    for entry_no, (table, rows, day, further, value) in enumerate((
        ("installations_rows", into, "installed_on", "", ""),
        ("replacements_rows", out, "removed_on", ", reason", f", '{REASON}'"),
    ), start=1):
        run_text(
            con,
            f"insert into raw.{table} (load_id, entry_no, source_row, {day}, service_point,"
            f" hose_id{further}) select $load_id, {entry_no}, unnest($rows), unnest($days),"
            f" unnest($places), unnest($tags){value}",
            load_id=load_id, rows=[number + 2 for number in range(len(rows))],
            days=[move.on for move in rows], places=[move.service_point for move in rows],
            tags=[move.hose_id for move in rows],
        )
    return len(out)


def refuse_halves(con: duckdb.DuckDBPyConnection) -> None:
    """Refuse swaps that name no hoses where the logs know them by tags, and no swap by half.

    A hose under a made tag is another one to the logs, so that both hoses would lose their age;
    of half a swap one hose would sit at two places.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Holds ``raw`` and the typed cells of both logs.
    """
    if con.execute(f"select 1 from raw.loads where {OF_SWAPS} limit 1").fetchone() is None:
        return
    run_text(
        con, "update clean.replacements_filled as t set reasons ="
        f" [{{'column_name': 'hose_id', 'value': s.tag, 'reason': $reason}}]::{REASONS}"
        f" from ({TAGGED_MADE}) as s where t.row_no = s.row_no and s.tag is not null"
        " and t.reasons is null", reason=TAGGED)
    _refuse_rest(con)


def refuse_untrue(con: duckdb.DuckDBPyConnection) -> bool:
    """Refuse swaps of which one removal cannot be true beside the other rows.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Holds the clean layer.

    Returns
    -------
    bool
        Whether there were such; the clean layer has to be made again then, without them.
    """
    if con.execute(f"select 1 from raw.loads where {OF_SWAPS} limit 1").fetchone() is None:
        return False
    run_text(con, f"create or replace temp table untrue as {UNTRUE}")
    is_any = con.execute("from untrue limit 1").fetchone() is not None
    run_text(
        con, "update clean.replacements_filled as t set reasons = [{'column_name': 'removed_on',"
        f" 'value': t.removed_on::varchar, 'reason': u.reason}}]::{REASONS} from untrue as u"
        " where t.row_no = u.row_no")
    run_text(con, "drop table untrue")
    _refuse_rest(con)
    return is_any


def _refuse_rest(con: duckdb.DuckDBPyConnection) -> None:
    """Refuse the other rows of swaps of which a row is refused."""
    halves = " union ".join(f"select {SWAP} from clean.{log}_cells where reasons is not null"
                            f" and {OF_SWAPS}" for log in LOGS_OF_SWAPS)
    run_text(con, f"create or replace temp table halves as {halves}")
    for log in LOGS_OF_SWAPS:
        run_text(
            con, f"update clean.{log}_filled set reasons = [{{'column_name': 'service_point',"
            f" 'value': service_point, 'reason': $reason}}]::{REASONS} where row_no in ("
            f"select row_no from clean.{log}_cells where reasons is null and {OF_SWAPS}"
            f" and ({SWAP}) in (from halves))", reason=IN_PART)
    run_text(con, "drop table halves")
