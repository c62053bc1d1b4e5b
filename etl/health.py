"""What became of each file, and the doubts that matter: Data health for a terminal."""

from __future__ import annotations

from dataclasses import dataclass

import duckdb

from etl.counted import counted

MOST_FILES = 30
"""Lines of files on a terminal; the others are counted, and stand whole in JSON."""
FILES = """
select
    l.source_file, l.log, l.n_clean, coalesce(c.n_cells, 0), l.n_superseded, l.n_refused,
    l.n_left_out
from results.loads as l
left join (
    select source_file, log, sum(n_cells)::bigint as n_cells from results.corrections
    group by source_file, log) as c using (source_file, log)
where l.status = 'loaded'
order by l.load_id, l.log
"""
ONE_OF = {"removals": "removal", "failures": "failure", "lives": "life"}
"""What doubts are about, one of them."""
LEFT_OUT = """
select source_file, exclusion, n_lives from results.exclusion_files order by source_file, exclusion
"""
DOUBTS = "select doubt, n_rows, effect from results.doubts where n_rows > 0 order by doubt"


@dataclass(frozen=True)
class FileHealth:
    """What became of the rows that a file gave to one log."""

    source_file: str
    log: str
    n_used: int
    n_corrected: int
    """Cells put right while reading, in all files of this name."""
    n_superseded: int
    n_refused: int
    n_left_out: int
    """Rows that the mapping says belong to no hose log: ``[file.keep]`` and ``[file.skip]``."""

    def words(self) -> str:
        """Return it as one line."""
        parts = [f"{self.n_used:,} used"]
        if self.n_corrected:
            parts.append(counted(self.n_corrected, "cell corrected", "cells corrected"))
        parts += [f"{n:,} {what}" for n, what in (
            (self.n_superseded, "replaced by other rows"), (self.n_refused, "refused"),
            (self.n_left_out, "left out as the mapping says")) if n]
        return f"  {self.source_file}, {self.log}: {', '.join(parts)}"


@dataclass(frozen=True)
class LeftOut:
    """Lives of a file that stay out of the fits, for one reason."""

    source_file: str
    reason: str
    n_lives: int

    def words(self) -> str:
        """Return it as one line."""
        return f"{counted(self.n_lives, 'life', 'lives')} of {self.source_file}: {self.reason}"


@dataclass(frozen=True)
class Doubt:
    """Something the logs do not say, and what the figures would be under the other reading."""

    doubt: str
    n_rows: int
    effect: str

    def words(self) -> str:
        """Return it as one line, with its count before it."""
        things, _, more = self.doubt.partition(" ")
        thing = ONE_OF.get(things, things)
        return f"{counted(self.n_rows, thing, things)} {more}: {self.effect}"


@dataclass(frozen=True)
class Health:
    """The account of a load."""

    files: tuple[FileHealth, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    doubts: tuple[Doubt, ...] = ()

    def lines(self) -> list[str]:
        """Return the account in words."""
        lines = ["By file:"] if self.files else []
        lines += [item.words() for item in self.files[:MOST_FILES]]
        if len(self.files) > MOST_FILES:
            lines.append(f"  and {len(self.files) - MOST_FILES:,} more (braidlife export loads).")
        if self.left_out:
            lines.append("Left out of fits:")
            lines += [f"  {item.words()}" for item in self.left_out[:MOST_FILES]]
            if len(self.left_out) > MOST_FILES:
                lines.append(f"  and {counted(len(self.left_out) - MOST_FILES, 'more line')}"
                             " (braidlife export exclusion_files).")
        lines += ["In doubt:"] if self.doubts else []
        return lines + [f"  {item.words()}" for item in self.doubts]


def health_of(con: duckdb.DuckDBPyConnection) -> Health:
    """Read the account of a load.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        Holds the results layer.
    """
    return Health(
        tuple(FileHealth(*row) for row in con.execute(FILES).fetchall()),
        tuple(LeftOut(*row) for row in con.execute(LEFT_OUT).fetchall()),
        tuple(Doubt(*row) for row in con.execute(DOUBTS).fetchall()))
