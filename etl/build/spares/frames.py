"""The frames of everything that is published on spares."""

from __future__ import annotations

import duckdb
import numpy as np
from numpy.typing import NDArray

from etl.build.forecast import FleetForecast, forecast_months
from etl.build.spares.budget import budget_table
from etl.build.spares.demand import read_parts
from etl.build.spares.stand_ins import stand_in_table
from etl.build.spares.table import spares_table
from etl.build.spares.what_if import what_if_table
from etl.build.statistics import LifeStatistics
from etl.settings import Settings

Floats = NDArray[np.float64]


def add_spares(
    con: duckdb.DuckDBPyConnection, found: LifeStatistics, fleet: FleetForecast,
    planned: dict[str, float], certain: dict[str, Floats], settings: Settings,
) -> None:
    """Register the frames of stock, what-if, budget and stand-ins.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds the layers ``clean`` and ``fit``.
    found : LifeStatistics
    fleet : FleetForecast
    planned : dict
        Planned changes expected within twelve months by part.
    certain : dict
        Days of the changes that use a hose for certain, by part.
    settings : Settings
    """
    parts = read_parts(con, fleet, planned, certain, settings)
    advice = spares_table(parts, settings.confidence)
    con.register("spares_frame", advice)
    con.register("spares_what_if_frame", what_if_table(parts))
    con.register("spares_budget_frame", budget_table(parts, forecast_months(found)))
    con.register("spares_stand_ins_frame", stand_in_table(con, parts, advice))
