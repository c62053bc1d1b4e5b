"""Both arms of a plan side by side: what they are made like, and the screens at the place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import duckdb

from etl.build.screens_table import CATALOGUE, hose_screens
from etl.build.trial.pools import Pool
from etl.build.trial.table import Constructions
from etl.decide.eligibility import Candidate

Row = dict[str, Any]
UNITS = {"rating": "bar", "bend": "mm", "frequency": "Hz"}


def duties(con: duckdb.DuckDBPyConnection) -> dict[str, Row]:
    """Read duty and latest vibration of each place with a hose."""
    frame = con.execute("select * from fit.place_duty order by place").df()
    return {
        str(row["service_point"]): {
            str(name): None if value is None or value != value else value
            for name, value in row.items()}
        for row in frame.to_dict("records")
    }


def arm_screens(
    pool: Pool, register: Mapping[str, Row], choice: Constructions
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
    duty = register.get(name)
    if duty is None:
        return []
    out: list[Row] = []
    for arm, construction in (("flexible", pool.arms.flexible), ("stiff", pool.arms.stiff)):
        made = next((item for item in choice.catalogue if item.construction == construction
                     and item.dn in (None, duty["dn"])), None)
        if made is not None:
            head = {"service_point": name, "arm": arm, "construction": construction}
            out += [head | row for row in _rows(made, duty, choice)]
    return out


def _rows(made: Candidate, duty: Row, choice: Constructions) -> Iterator[Row]:
    """Return the rows of one arm."""
    for screen, value, unit in (("stiffness", made.bending_stiffness_n_m2, "N m²"),
                                ("mass", made.mass_kg_per_m, "kg/m")):
        yield {"screen": screen, "value": value, "unit": unit, "source": CATALOGUE[0],
               "status": CATALOGUE[1]}
    fitted = duty | {
        "core_alloy": made.core_alloy, "rated_pressure_bar": made.rated_pressure_bar,
        "min_bend_radius_dynamic_mm": made.min_bend_radius_dynamic_mm,
        "bending_stiffness_n_m2": made.bending_stiffness_n_m2,
        "mass_kg_per_m": made.mass_kg_per_m,
        "natural_frequency_hz": None,  # measured on the present hose, not on this one
    }
    for row in hose_screens(fitted, choice.derating):
        yield {key: value for key, value in row.items() if key != "compared_with"} | {
            "unit": UNITS[row["screen"]]}
