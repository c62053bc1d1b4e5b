"""Both arms of a plan side by side: what they are made like, and the screens at the place."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import duckdb
import numpy as np
import pandas as pd

from etl.build.screens_table import CATALOGUE, hose_screens
from etl.build.trial.pools import Pool
from etl.build.trial.table import Constructions
from etl.decide.eligibility import Candidate

Row = dict[str, Any]
MADE = ("rated_pressure_bar", "min_bend_radius_dynamic_mm", "bending_stiffness_n_m2",
        "mass_kg_per_m")
UNITS = {"rating": "bar", "bend": "mm", "frequency": "Hz"}


def duties(con: duckdb.DuckDBPyConnection, anchors: Sequence[str]) -> pd.DataFrame:
    """Read duty and latest vibration of some places, those with a hose, by name."""
    return con.execute(
        "select * from fit.place_duty where service_point in (select unnest(?)) order by place",
        [list(anchors)]).df().set_index("service_point")


def arm_screens(
    pool: Pool, register: pd.DataFrame, choice: Constructions
) -> list[Row]:
    """Return one row an arm and screen at the place that calls for the trial.

    Returns
    -------
    list of dict
        Bending stiffness and mass from the catalogue, pressure against the rating left at
        temperature, bend against the least radius in motion, natural frequency with its range
        against the main frequency of the vibration; each only where its inputs are recorded.
    """
    name = str(pool.anchor["service_point"])
    if name not in register.index:
        return []
    duty = register.loc[[name]]
    out: list[Row] = []
    for arm, construction in (("flexible", pool.arms.flexible), ("stiff", pool.arms.stiff)):
        made = next((item for item in choice.catalogue if item.construction == construction
                     and item.dn in (None, duty["dn"].iloc[0])), None)
        if made is not None:
            head = {"service_point": name, "arm": arm, "construction": construction}
            out += [head | row for row in _rows(made, duty, choice)]
    return out


def _rows(made: Candidate, duty: pd.DataFrame, choice: Constructions) -> Iterator[Row]:
    """Return the rows of one arm."""
    for screen, value, unit in (("stiffness", made.bending_stiffness_n_m2, "N m²"),
                                ("mass", made.mass_kg_per_m, "kg/m")):
        yield {"screen": screen, "value": value, "unit": unit, "source": CATALOGUE[0],
               "status": CATALOGUE[1]}
    fitted = duty.assign(
        core_alloy=made.core_alloy, natural_frequency_hz=np.nan,  # that of the present hose
        **{name: np.nan if (value := getattr(made, name)) is None else value for name in MADE})
    for found in hose_screens(fitted, choice.derating):
        for row in found.drop(columns="compared_with").to_dict("records"):
            yield {str(name): value for name, value in row.items()} | {"unit": UNITS[row["screen"]]}
