"""What a load did: counted in the database, told in words."""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import dataclass
from typing import Any

import duckdb

from etl.counted import counted
from etl.health import Health, health_of
from etl.load import archive


@dataclass(frozen=True)
class Outcome:
    """What a load did."""

    edition: int
    as_of: str
    files: int
    files_already_loaded: int
    refused_files: tuple[str, ...]
    n_rows: int
    n_refused: int
    n_service_points: int
    n_lives: int
    n_failures: int
    n_failure_prone: int
    health: Health = Health()
    notes: tuple[str, ...] = ()
    """Which mappings count, where the same content came with different ones."""

    def as_dict(self) -> dict[str, Any]:
        """Return the outcome for JSON."""
        return dataclasses.asdict(self)

    def summary(self) -> str:
        """Return the outcome in words."""
        lines = [
            f"Edition {self.edition}, data to {self.as_of}: "
            f"{counted(self.n_service_points, 'service point')}, "
            f"{counted(self.n_lives, 'life', 'lives')}, of which "
            f"{counted(self.n_failures, 'failure')}; "
            + counted(self.n_failure_prone, "place fails faster than its peers.",
                      "places fail faster than their peers."),
            f"{counted(self.files, 'file')} read, {self.files_already_loaded:,}"
            f"{' of them' * (self.files != 1)} loaded before; "
            f"{counted(self.n_rows, 'row')}, {self.n_refused:,} refused"
            + (" (braidlife export refused --out refused.csv)." if self.n_refused else "."),
        ]
        lines += [f"Not loaded: {message}" for message in self.refused_files]
        lines += self.notes
        lines += self.health.lines()
        return "\n".join(lines)


def outcome_of(
    con: duckdb.DuckDBPyConnection, number: int, day: dt.date, outcomes: list[archive.Outcome]
) -> Outcome:
    """Count what was loaded and published.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds every layer up to ``results``.
    number : int
        Of the edition.
    day : date
        Data date.
    outcomes : list of archive.Outcome
        What became of each file.

    Returns
    -------
    Outcome
    """
    mine = [item.load_id for item in outcomes]
    refused = con.execute(
        "select distinct message from raw.loads "
        "where status = 'refused' and list_contains(?, load_id) order by 1", [mine]
    ).fetchall()
    counts = con.execute(
        """
        select (select sum(n_clean + n_superseded + n_refused) from results.loads), n_refused,
            n_service_points, n_lives, n_failures,
            (select count(*) from results.ranking where is_failure_prone)
        from results.edition
        """
    ).fetchall()[0]
    not_read = [item.message for item in outcomes if item.message]
    loaded = sum(item.status == "already loaded" for item in outcomes)
    n_rows, n_refused, n_points, n_lives, n_failures, n_prone = (int(n or 0) for n in counts)
    return Outcome(number, day.isoformat(), len(outcomes), loaded,
                   (*not_read, *(row[0] for row in refused)), n_rows, n_refused, n_points, n_lives,
                   n_failures, n_prone, health_of(con),
                   tuple(item.note for item in outcomes if item.note))
