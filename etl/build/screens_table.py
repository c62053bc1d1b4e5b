"""Physical screens of every place from its register entry, its latest look and the catalogue."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

import duckdb
import numpy as np
import pandas as pd

from etl.build.trial.table import derating
from etl.decide.eligibility import derated_pressure_bar
from etl.decide.screens import flow, frequency, vibration
from etl.decide.screens.sheet import level_mm_s
from etl.load.seeds import rows

WATER = 1000.0
"""Density, kg/m3, of a hose filled with water; gas is lighter and raises the frequency."""
RANKED_BY = "concern"
COLUMNS = ("service_point", "screen", "compared_with", "value", "lower", "upper", "limit_value",
           "ratio", "rank", "n_ranked", "source", "status")
TEXTS = ("service_point", "screen", "compared_with", "source", "status")
CATALOGUE = ("catalogue of constructions", "as recorded")

Row = dict[str, Any]
Place = Mapping[str, Any]


def add_screens(con: duckdb.DuckDBPyConnection) -> None:
    """Register the frame of screens, one row a place and line of comparison.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds ``fit.place_duty`` and ``seeds.derating``.
    """
    duty = con.execute("select * from fit.place_duty order by place").df()
    strength = derating(con)
    speeds, lines = rows("flow_speeds"), rows("vibration_lines")
    found: list[Row] = []
    for record in duty.to_dict("records"):
        place = {str(name): _known(value) for name, value in record.items()}
        for row in (*hose_screens(place, strength),
                    *_flow(place, speeds), *_vibration(place, lines)):
            found.append({"service_point": place["service_point"]} | row)
    frame = pd.DataFrame(found, columns=list(COLUMNS))
    is_ranked = ((frame["screen"] == "vibration") & (frame["compared_with"] == RANKED_BY)
                 ).to_numpy(np.bool_)
    ranks = np.full(len(frame), -1)
    if is_ranked.any():
        share = frame.loc[is_ranked, "ratio"].to_numpy(np.float64)
        ranks[is_ranked] = vibration.rank_from_highest(share)
    frame["rank"] = pd.arrays.IntegerArray(ranks.astype(np.int64), ~is_ranked)
    frame["n_ranked"] = pd.arrays.IntegerArray(
        np.full(len(frame), is_ranked.sum(), np.int64), ~is_ranked)
    kinds = {name: "string" if name in TEXTS else "Float64" for name in COLUMNS
             if name not in ("rank", "n_ranked")}
    con.register("place_screens_frame", frame.astype(kinds))


def hose_screens(place: Place, strength: Mapping[str, list[tuple[float, float]]]) -> Iterator[Row]:
    """Return the screens that depend on the hose: rating, bend and natural frequency.

    Parameters
    ----------
    place : mapping
        A row of ``fit.place_duty``; another construction's catalogue figures may stand in it.
    strength : mapping of alloy to its derating table
    """
    yield from _rating(place, strength)
    yield from _bend(place)
    yield from _frequency(place)


def _known(value: Any) -> Any:
    """Return None for what the register does not say."""
    return None if value is None or (isinstance(value, float) and math.isnan(value)) else value


def _has(place: Place, *names: str) -> bool:
    """Tell whether the figures are known and could be compared: a vacuum has no rating used."""
    return all(place[name] is not None and (name == "temperature_c" or place[name] > 0)
               for name in names)


def _row(screen: str, compared_with: str, value: float, limit: float,
         source: tuple[str, str], **more: float) -> Row:
    return {"screen": screen, "compared_with": compared_with, "value": value,
            "limit_value": limit, "ratio": value / limit, "source": source[0],
            "status": source[1], **more}


def _rating(
    place: Place, strength: Mapping[str, list[tuple[float, float]]]
) -> Iterator[Row]:
    """Compare the pressure with the rating left at temperature."""
    if not _has(place, "pressure_bar", "temperature_c", "rated_pressure_bar"):
        return
    table = strength.get(place["core_alloy"] or "")
    left = derated_pressure_bar(place["rated_pressure_bar"], table, place["temperature_c"]
                                ) if table else None
    if left:
        yield _row("rating", "rating left at temperature", place["pressure_bar"], left,
                   ("ISO 10380:2012, derating of the core alloy", "second-hand copy"))


def _bend(place: Place) -> Iterator[Row]:
    """Compare the bend with the least radius in motion."""
    if _has(place, "bend_radius_mm", "min_bend_radius_dynamic_mm"):
        yield _row("bend", "least radius in motion", place["bend_radius_mm"],
                   place["min_bend_radius_dynamic_mm"], CATALOGUE)


def _frequency(place: Place) -> Iterator[Row]:
    """Compare the natural frequency with the vibration on record: measured, else of a beam."""
    if _has(place, "natural_frequency_hz", "vibration_hz"):
        yield _row("frequency", "main frequency of the vibration", place["natural_frequency_hz"],
                   place["vibration_hz"], ("bump test on the hose as fitted", "as recorded"))
        return
    names = ("bending_stiffness_n_m2", "mass_kg_per_m", "live_length_mm", "dn", "vibration_hz")
    if not _has(place, *names):
        return
    stiffness, dry, length, bore, excitation = (float(place[name]) for name in names)
    water = frequency.water_mass_kg_m(WATER, math.pi / 4.0 * bore**2)
    filled = frequency.natural_frequency_hz(stiffness, dry + water, length)
    empty = frequency.natural_frequency_hz(stiffness, dry, length)
    up, down = frequency.frequency_error()
    yield _row("frequency", "main frequency of the vibration", filled, excitation,
               ("beam between fixed ends, filled with water; upper end empty",
                "derived, catalogue stiffness 30 % either way"),
               lower=filled * (1.0 + down), upper=empty * (1.0 + up))


def _flow(place: Place, speeds: list[dict[str, str]]) -> Iterator[Row]:
    """Compare the flow with every published speed for a straight braided hose."""
    if not _has(place, "flow_velocity_m_s", "dn"):
        return
    for row in speeds:
        if row["layout"] not in ("any", "straight") or row["cover"] == "no braid":
            continue
        limit = flow.published_speed_m_s(float(place["dn"]), float(row["per_inch_ft_s"]),
                                         float(row["up_to_inch"]), float(row["beyond_ft_s"]))
        yield _row("flow", f"{row['speed']}, {row['medium']}, {row['meaning']}",
                   place["flow_velocity_m_s"], limit, (row["source"], row["status"]))


def _vibration(place: Place, lines: list[dict[str, str]]) -> Iterator[Row]:
    """Compare the measured velocity with every line for pipe."""
    if not _has(place, "vibration_mm_s_rms"):
        return
    for row in lines:
        limit = level_mm_s(row, place["vibration_hz"] if _has(place, "vibration_hz") else None)
        if limit is not None:
            yield _row("vibration", row["line"], place["vibration_mm_s_rms"], limit,
                       (row["source"], row["status"]))
