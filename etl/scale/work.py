"""A fleet from its partitions to its tables, as one readable list of steps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from etl.counted import counted
from etl.load import warehouse
from etl.load.publish import publish
from etl.scale.atoms import summarise
from etl.scale.executors import Executor
from etl.scale.forecasts import forecast, forecast_tasks
from etl.scale.partitions import FleetList
from etl.scale.places import Peers, PlaceTask, class_laws, compare, tally
from etl.scale.pool import FleetLaw, estimate, gather
from etl.scale.results import (
    TABLES,
    MonthTotals,
    fleet_frame,
    partitions_frame,
    worst_frame,
)
from etl.scale.worst import Worst
from etl.settings import Settings

Say = Callable[[str], None]


@dataclass(frozen=True)
class FleetResults:
    """What is estimated of a fleet.

    Attributes
    ----------
    law : FleetLaw
    peers : Peers
    tables : dict of str to DataFrame
        By the names of `etl.scale.results.TABLES`.
    """

    law: FleetLaw
    peers: Peers
    tables: dict[str, pd.DataFrame]


def fleet_results(
    listed: FleetList, executor: Executor, settings: Settings, say: Say = lambda _: None
) -> FleetResults:
    """Estimate, forecast and rank a fleet.

    Parameters
    ----------
    listed : FleetList
    executor : Executor
    settings : Settings
    say : callable

    Returns
    -------
    FleetResults
        The same to the last bit whatever the executor.

    Raises
    ------
    InputError
        A partition cannot be read, or is not as listed.
    StoreError
        Workers were lost, or hang.
    """
    say(f"adding up {counted(len(listed.partitions), 'partition')}")
    cells = gather(atom for atoms in executor.map(summarise, listed.partitions) for atom in atoms)
    say(f"estimating {counted(len(cells.names), 'cell')}")
    law = estimate(cells, settings)
    laws = class_laws(law)
    tasks = [PlaceTask(part, laws[part.application_class]) for part in listed.partitions]
    say("comparing places with their peers")
    peers = compare(executor.map(tally, tasks), settings)
    say("forecasting and ranking places")
    months, worst = MonthTotals(), None
    for sums, some in executor.map(forecast, forecast_tasks(tasks, peers, settings.seed + 1)):
        months.add(sums)
        worst = _together(worst, some)
    return FleetResults(law, peers, {
        "fleet": fleet_frame(
            listed, cells, peers, months.late(settings.confidence), settings), "fits": law.fits,
        "forecast": months.frame(listed.as_of, settings.confidence),
        "worst_places": worst_frame(worst, peers, settings.confidence),
        "fleet_partitions": partitions_frame(listed),
    })


def _together(one: Worst | None, other: Worst | None) -> Worst | None:
    """Return the places of two parts of a fleet that may be listed."""
    if one is None or other is None:
        return one or other
    return one.beside(other).pruned()


def publish_fleet(results: FleetResults, store: Path, kept: int) -> int:
    """Publish the tables of a fleet in a store of their own.

    Parameters
    ----------
    results : FleetResults
    store : Path
        Locked by the caller.
    kept : int
        Editions that stay.

    Returns
    -------
    int
        Number of the edition.
    """
    con = warehouse.connect(threads=1)
    try:
        for name, frame in results.tables.items():
            con.register(f"{name}_frame", frame)
            con.execute(f"create table results.{name} as select * from {name}_frame")
        return publish(con, store, TABLES, kept)
    finally:
        con.close()
