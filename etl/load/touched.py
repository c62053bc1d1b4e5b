"""The layers of the service points that new rows touch, joined with what is kept of the rest."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence

import duckdb

from etl.load import seeds, typing
from etl.load.base import (
    ABSENT,
    BY_PLACE,
    CANNOT_GROW,
    MOST_WORDS,
    NEVER,
    READ_FOR_OTHERS,
    REGISTERS,
    among,
    columns_of,
)
from etl.load.columns import LOGS, Log
from etl.load.data_day import OTHERS, believable_days, last_look, latest_of
from etl.load.mapping import TypingOptions
from etl.load.packed import unpack_statement
from etl.load.renumber import make_moved
from etl.load.row_choice import again_condition, clean_statement, none_repeated_statement
from etl.load.typed_rows import PAIRED, ROW_NO, cells_select, hashed_statement
from etl.load.unless import made_empty, run_needed
from etl.load.warehouse import run_layer, run_sql, run_text

WHOLE = ("constructions", "parts", "stock", "trials")
"""Logs that are looked at whole where they have new rows."""
OF_THEIR_HOSES = """
insert into clean.teardowns_cells by name
from base.clean.teardowns_cells
where point_no is null and hose_id in (
    select hose_id from clean.installations_cells
    union select hose_id from clean.replacements_cells
    union select hose_id from clean.teardowns_cells)
"""
"""Examinations that bear on touched places without naming them."""
PACKED = ROW_NO.replace("r.", "b.")
JOINED = {
    "clean.fates": "b.row_no", "clean.returned": "b.row_no", "clean.impossible": "b.row_no",
    "clean.refused": PACKED, "clean.refused_cells": PACKED,
    "lives.examined_stays": "b.row_no", "lives.concluded": "b.installation_no",
    "lives.orphans": "b.removal_no",
}
"""Tables of which each row goes with the row of a log of this number."""
TAG = "case when hose_id is not null then hash(hose_id) end"
NUMBER = "case when row_id is not null then key_hash end"
LINKS = {"installations": (TAG, NUMBER), "replacements": (TAG, NUMBER),
         "teardowns": (TAG, NUMBER), "inspections": (NUMBER,)}
"""What rows of a log name beside their place: a tag, or a number of a site's own record; as
``base.links`` has them."""
MOST_TOUCHED = 1 / 3
"""Part of the places from which on a whole build costs no more."""


class Append:
    """The layers while new rows are put beside what is kept."""

    def __init__(self, con: duckdb.DuckDBPyConnection, degraded: Sequence[str]) -> None:
        """Take a database with the new rows in its raw layer and ``base`` attached."""
        self.con = con
        self.degraded = degraded
        self.nowhere: set[str] = set()
        """Logs by place that have no row at all, so that what is made of them is empty as well."""
        self.absent: set[str] = set()
        """Tables of the lives layer that have none either."""
        con.execute("create schema append")

    def build(self, groups: Mapping[int, TypingOptions], day: dt.date | None,
              ) -> dt.date | None:
        """Build what is touched and join the rest; None where that is not possible."""
        con = self.con
        by_log = typing.groups_of_logs(con, groups)
        fed = {name for name, used in by_log.items() if used}
        if fed & set(CANNOT_GROW):
            return None
        self.nowhere = {name for name in set(BY_PLACE) - fed if con.execute(
            f"select exists (from base.clean.{name}_cells)").fetchone() == (False,)}
        self.absent = {table for name in (*self.nowhere, *NEVER) for table in ABSENT.get(name, ())}
        # Kept files are not typed again, so that they belong to no group of this database.
        con.execute("insert into raw.loads select * replace (null as typing_group) "
                    "from base.raw.loads")
        self._look_through()
        typing.make_words(con, by_log)
        read = [log for log in OTHERS if log.name in fed]
        for log in read:
            typing.type_log(con, log, by_log[log.name])
        days = self._days(day, read)
        if days is None or not self._touch(fed):
            return None
        self._build_touched(fed, *days)
        self._join(fed)
        return days[0]

    def _view(self, name: str, select: str | None = None) -> None:
        """Let a table be seen as it is kept, or as selected."""
        self.con.execute(f"create or replace view {name} as {select or f'from base.{name}'}")

    def _look_through(self) -> None:
        """Let all that new rows cannot change be seen as it is kept."""
        for name in seeds.TABLES:
            self._view(f"seeds.{name}")
        for name in ("remedies", "keys", "points", "service_points", "service_points_cells"):
            self._view(f"clean.{name}")

    def _days(self, day: dt.date | None, read: Sequence[Log]) -> tuple[dt.date, dt.date] | None:
        """Return the data date and the last day of looks; None where they change what is kept."""
        found = self.con.execute(
            "select believable, latest, as_of, looks_to, first_later_on, n_unknown_words"
            " from base.note").fetchone()
        assert found is not None
        *before, as_of, looks_to, first_later_on, n_words = found
        pairs = zip(before, believable_days(self.con, read), strict=True)
        believable, latest = (max(filter(None, pair), default=None) for pair in pairs)
        day = day or latest_of(self.con, believable, latest)
        looks = last_look(self.con, day, (believable, latest))
        if day < as_of or looks < looks_to or n_words >= MOST_WORDS:
            return None
        if first_later_on is not None and first_later_on <= max(day, looks):
            return None
        return day, looks

    def _touch(self, fed: set[str]) -> bool:
        """Find the places to be built again; False where they are too many."""
        con = self.con
        for name in fed:
            con.execute(f"alter table clean.{name}_cells rename to {name}_new")
        placed = fed & set(BY_PLACE)
        con.execute("create table append.touched as " + _union(
            (f"select point_no from clean.{name}_new" for name in placed),
            "point_no", "integer"))
        con.execute("create table append.links as " + _union(
            (f"select (unnest([{', '.join(LINKS[name])}]) >> 32)::uinteger as link"
             f" from clean.{name}_new" for name in placed), "link", "uinteger"))
        con.execute("insert into append.touched select distinct point_no from base.links where "
                    "part in (select (link >> 16)::usmallint from append.links) and "
                    "link in (from append.links) and point_no not in (from append.touched)")
        if "parts" in fed:
            run_sql(con, "append/10_touched_by_parts")
        while con.execute(
                "insert into append.touched select distinct point_no from base.shared_links "
                "where link in (select link from base.shared_links where point_no in "
                "(from append.touched)) and point_no not in (from append.touched)"
                ).fetchall() != [(0,)]:
            pass
        n_touched, n_all = con.execute(
            "select (select count(*) from append.touched), (select count(*) from base.place_stays)"
        ).fetchone() or (0, 0)
        return bool(n_touched <= MOST_TOUCHED * n_all)

    def _build_touched(self, fed: set[str], as_of: dt.date, looks_to: dt.date) -> None:
        """Run the layers over all rows of the touched places, and of small logs with new rows."""
        con = self.con
        self._read_kept(fed)
        read = [log for log in OTHERS
                if log.name in fed or log.name in BY_PLACE and log.name not in self.nowhere]
        rows = " union all ".join(f"select row_no from clean.{log.name}_cells" for log in read)
        con.execute(f"create table append.rows as {rows}")
        stand = self._keep_fates([log for log in read if log.name in fed])
        typing.choose_rows(con, read, as_of, looks_to, ("corrected_cells", *stand))
        for log in OTHERS:
            if log.name in REGISTERS and log.name not in fed:
                self._view(f"clean.{log.name}")
            else:
                run_text(con, clean_statement(log))
        for name in self.absent - set(READ_FOR_OTHERS):
            self._view(f"lives.{name}")
        # Touched places are enough to make lives of; all of them would be read for each statement.
        con.execute("create table append.points as from base.clean.points "
                    "where point_no in (from append.touched)")
        self._view("clean.points", "from append.points")
        run_needed(con, "lives", {*self.absent, "findings"}, as_of=as_of,
                  degraded_is_suspension=sorted(self.degraded))
        self._view("clean.points")

    def _keep_fates(self, fed: Sequence[Log]) -> tuple[str, ...]:
        """Take what came of each row of touched places as kept; none where a key comes again.

        Returns
        -------
        tuple of str
            Tables of the clean layer that stand now.
        """
        con = self.con
        again = " or ".join(again_condition(log, f"clean.{log.name}_new") for log in fed)
        if con.execute(f"select {again or 'false'}").fetchone() != (False,):
            return ()
        for name in ("fates", "returned"):
            con.execute(f"create table clean.{name} as from base.clean.{name} "
                        "where row_no in (from append.rows)")
        # Of rows that disagree each lists the others, so that those have to be at hand.
        if con.execute("select exists (from clean.fates where fate = 'conflict')"
                       ).fetchone() == (True,):
            return ()
        run_text(con, none_repeated_statement())
        return "repeated", "fates", "returned"

    def _read_kept(self, fed: set[str]) -> None:
        """Put the typed rows of touched places, and of small logs with new rows, together."""
        con = self.con
        for name in ({*self.nowhere, *WHOLE, "usage"} - fed) - set(REGISTERS):
            self._view(f"clean.{name}_cells")
        con.execute("create table append.packed as select rows from base.packed.rows where "
                    + among(con, "point_no", "append.touched"))
        for at, name in enumerate(BY_PLACE):
            if name in self.nowhere:
                continue
            columns = columns_of(con, f"base.packed.{name}")
            kept = unpack_statement("append.packed", at, columns)
            self._cells(name, fed, f"({cells_select(LOGS[name], columns, f'({kept})')})")
            if name == "teardowns":
                con.execute(OF_THEIR_HOSES)
        for name in set(PAIRED) - fed:
            run_text(con, hashed_statement(LOGS[name]))
        for name in fed & set(WHOLE):
            self._cells(name, fed, f"base.clean.{name}_cells")

    def _cells(self, name: str, fed: set[str], kept: str) -> None:
        """Put typed rows that are kept beside the new ones of their log, if it has any."""
        new = f"from clean.{name}_new union all by name " if name in fed else ""
        self.con.execute(f"create table clean.{name}_cells as {new}from {kept}")

    def _join(self, fed: set[str]) -> None:
        """Let every table hold the touched rows and those of all other places."""
        con = self.con
        for name in LOGS:
            if name in fed:
                con.execute(f"alter view raw.{name} rename to {name}_part")
                self._view(f"raw.{name}",
                           f"from base.raw.{name} union all by name from raw.{name}_part")
            else:
                self._view(f"raw.{name}")
        con.execute("insert into raw.unreadable from base.raw.unreadable")
        con.execute("insert into raw.corrections from base.corrections")
        for name in set(BY_PLACE) - self.nowhere:
            con.execute(f"drop table clean.{name}_cells")
            new = f" union all by name from clean.{name}_new" if name in fed else ""
            self._view(f"clean.{name}_cells", f"from base.clean.{name}_cells{new}")
        for name, number in JOINED.items():
            if name.split(".")[1] in self.absent:
                continue
            self._set_aside(name)
            self._view(name, f"from base.{name} as b where {number} not in (from append.rows) "
                             f"union all by name from {name}_part")
        if not made_empty(con, "clean.corrected_cells"):
            run_sql(con, "clean/87_corrected_cells")
            typing.note_cells(con)
        for name in ("stays", "ran", "in_service", "place_findings"):
            if name not in self.absent:
                self._set_aside(f"lives.{name}")
        make_moved(con)
        run_layer(con, "append/joined", self.absent)
        run_sql(con, "append/20_findings")

    def _set_aside(self, name: str) -> None:
        """Give the table of touched rows another name, so that the whole can have its own."""
        self.con.execute(f"alter table {name} rename to {name.split('.')[1]}_part")


def _union(selects: Iterable[str], name: str, kind: str) -> str:
    """Return the select of the different values of selects of one column, its name and type."""
    listed = " union all ".join(selects) or f"select null::{kind} as {name}"
    return f"select distinct {name} from ({listed}) where {name} is not null"
