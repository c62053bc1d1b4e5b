"""The command `braidlife fleet`: choose who works, work, publish."""

from __future__ import annotations

import contextlib
import dataclasses
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from etl.counted import counted
from etl.errors import InputError
from etl.load import warehouse
from etl.load.publish import POINTER, current_edition, store_lock
from etl.load.store_faults import write_fault
from etl.scale.cluster import Cluster
from etl.scale.executors import Executor, Here, Processes
from etl.scale.partitions import read_list
from etl.scale.work import fleet_results, publish_fleet
from etl.settings import read_settings

FLEET = "fleet"
"""Store of a fleet's tables, below the store of a site."""


@dataclass(frozen=True)
class Outcome:
    """What was done."""

    edition: int
    as_of: str
    n_sites: int
    n_partitions: int
    n_service_points: int
    n_lives: int
    n_failures: int

    def as_dict(self) -> dict[str, Any]:
        """Return the outcome for JSON."""
        return dataclasses.asdict(self)

    def summary(self) -> str:
        """Return the outcome in words."""
        return (
            f"Fleet edition {self.edition}, data to {self.as_of}: {counted(self.n_sites, 'site')}, "
            f"{counted(self.n_service_points, 'service point')}, "
            f"{counted(self.n_lives, 'fitted life', 'fitted lives')}, of which "
            f"{counted(self.n_failures, 'failure')}, "
            f"from {counted(self.n_partitions, 'partition')}.\n"
            "Read its tables with `braidlife export fits --store STORE/fleet --out fits.csv`; "
            "forecast and worst_places likewise.")


def refuse_fleet(store: Path) -> None:
    """Say what a fleet's store holds where pages of a site are asked of it.

    Raises
    ------
    InputError
        The current edition is one of `braidlife fleet`.
    """
    if not (store / POINTER).is_file():
        return  # an empty store begins with the first spreadsheet
    con = warehouse.connect(threads=1)
    try:
        con.execute(f"attach '{str(current_edition(store)).replace(chr(39), chr(39) * 2)}' as "
                    "edition (read_only)")
        (is_fleet,), = con.execute("select count(*) > 0 from duckdb_tables() where "
                                   "database_name = 'edition' and table_name = 'fleet'").fetchall()
    finally:
        con.close()
    if is_fleet:
        raise InputError(
            "this is the store of a fleet: it holds tables (fits, forecast, worst_places, "
            "fleet_partitions), and no places, logs or lives for pages to show. Read them with "
            "`braidlife export worst_places --store STORE/fleet --out worst.xlsx`, and serve the "
            "store of a site.")


def start_fleet(
    folder: str, store: Path, *, workers: int, cluster: str | None, tls: Path | None,
    say: Callable[[str], None],
) -> Outcome:
    """Estimate a fleet from the partitions of its sites and publish its tables.

    Parameters
    ----------
    folder : str
        Path or address of the partitions.
    store : Path
        Its folder ``fleet`` gets the tables, its ``settings.toml`` holds.
    workers : int
        Processes of this machine; 1 works in this one.
    cluster : str or None
        Address of a scheduler, in place of processes.
    tls : Path or None
    say : callable

    Returns
    -------
    Outcome

    Raises
    ------
    InputError
        Partitions are missing, damaged or unlike; the address is none.
    StoreError
        Workers were lost, another run is going on, or the disk is full. What was published
        before is untouched.
    """
    if cluster and workers > 1:
        raise InputError("--workers and --cluster exclude each other: the scheduler has its own.")
    if tls and not cluster:
        raise InputError("--tls is for --cluster ADDRESS.")
    settings = read_settings(store / "settings.toml")
    listed = read_list(folder)
    with (store_lock(store / FLEET),
          contextlib.closing(_executor(workers, cluster, tls)) as executor):
        try:
            results = fleet_results(listed, executor, settings, say)
            say("publishing")
            number = publish_fleet(results, store / FLEET, settings.editions_kept)
        except OSError as exc:
            raise write_fault(store, "the fleet could not be worked out", exc) from exc
    row = results.tables["fleet"].iloc[0]
    return Outcome(number, listed.as_of.isoformat(), *(int(row[name]) for name in (
        "n_sites", "n_partitions", "n_service_points", "n_lives", "n_failures")))


def _executor(workers: int, cluster: str | None, tls: Path | None) -> Executor:
    """Return who works."""
    if cluster is not None:
        return Cluster(cluster, tls)
    return Processes(workers) if workers > 1 else Here()
