"""Physical screens of every place from its register entry, its latest look and the catalogue."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.trial.table import derating
from etl.decide.eligibility import derated_pressure_bar
from etl.decide.screens import flow, frequency, vibration
from etl.decide.screens.sheet import level_mm_s
from etl.load.seeds import rows

Values = NDArray[np.float64]

WATER = 1000.0
"""Density, kg/m3, of a hose filled with water; gas is lighter and raises the frequency."""
RANKED_BY = "concern"
COLUMNS = ("service_point", "screen", "compared_with", "value", "lower", "upper", "limit_value",
           "ratio", "rank", "n_ranked", "source", "status")
TEXTS = ("service_point", "screen", "compared_with", "source", "status")
CATALOGUE = ("catalogue of constructions", "as recorded")



def add_screens(con: duckdb.DuckDBPyConnection) -> None:
    """Register the frame of screens, one row a place and line of comparison.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds ``fit.place_duty`` and ``seeds.derating``.
    """
    duty = con.execute("select * from fit.place_duty order by place").df()
    found = [*hose_screens(duty, derating(con)), *_flow(duty, rows("flow_speeds")),
             *_vibration(duty, rows("vibration_lines"))]
    frame = pd.concat(found) if found else pd.DataFrame()
    frame = frame.reindex(columns=[name for name in COLUMNS if name != "service_point"])
    frame.insert(0, "service_point", duty["service_point"].reindex(frame.index))
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
    con.register("place_screens_frame", frame.astype(kinds).reset_index(drop=True))


def hose_screens(
    duty: pd.DataFrame, strength: Mapping[str, list[tuple[float, float]]]
) -> Iterator[pd.DataFrame]:
    """Return the screens that depend on the hose: rating, bend and natural frequency.

    Parameters
    ----------
    duty : DataFrame
        Rows of ``fit.place_duty``; another construction's catalogue figures may stand in them.
    strength : mapping of alloy to its derating table

    Yields
    ------
    DataFrame
        Under the index of ``duty``: screen, compared_with, value, limit_value, ratio, source and
        status, some with lower and upper.
    """
    yield from _rating(duty, strength)
    yield from _bend(duty)
    yield from _measured_frequency(duty)
    yield from _beam_frequency(duty)


def _with(duty: pd.DataFrame, *names: str) -> pd.DataFrame:
    """Return the places whose figures are known and comparable: a vacuum has no rating used."""
    is_known = np.ones(len(duty), np.bool_)
    for name in names:
        values = duty[name].to_numpy(np.float64, na_value=np.nan)
        is_known &= ~np.isnan(values) if name == "temperature_c" else values > 0.0
    return duty[is_known]


def _compared(screen: str, compared_with: str, value: pd.Series[float], limit: Values,
              source: tuple[str, str], **more: Values) -> Iterator[pd.DataFrame]:
    """Yield the rows of places that have a limit."""
    frame = pd.DataFrame({
        "screen": screen, "compared_with": compared_with, "value": value, "limit_value": limit,
        "ratio": value / limit, "source": source[0], "status": source[1], **more})
    if len(frame := frame[~np.isnan(limit)]):
        yield frame


def _each(function: Callable[..., float | None], *given: Sequence[Any] | pd.Series[Any]) -> Values:
    """Return a figure for each place, worked out once for like ones; NaN where there is none."""
    found: dict[tuple[Any, ...], float | None] = {}
    keys = list(zip(*given, strict=True))
    for key in keys:
        if key not in found:
            found[key] = function(*key)
    return np.array([found[key] for key in keys], np.float64)


def _rating(
    duty: pd.DataFrame, strength: Mapping[str, list[tuple[float, float]]]
) -> Iterator[pd.DataFrame]:
    """Compare the pressure with the rating left at temperature."""
    known = _with(duty, "pressure_bar", "temperature_c", "rated_pressure_bar")
    known = known[known["core_alloy"].isin(list(strength))]
    left = _each(
        lambda alloy, rated, at: derated_pressure_bar(rated, strength[alloy], at) or None,
        known["core_alloy"], known["rated_pressure_bar"], known["temperature_c"])
    yield from _compared("rating", "rating left at temperature", known["pressure_bar"], left,
                         ("ISO 10380:2012, derating of the core alloy", "second-hand copy"))


def _bend(duty: pd.DataFrame) -> Iterator[pd.DataFrame]:
    """Compare the bend with the least radius in motion."""
    known = _with(duty, "bend_radius_mm", "min_bend_radius_dynamic_mm")
    yield from _compared("bend", "least radius in motion", known["bend_radius_mm"],
                         known["min_bend_radius_dynamic_mm"].to_numpy(np.float64), CATALOGUE)


def _measured_frequency(duty: pd.DataFrame) -> Iterator[pd.DataFrame]:
    """Compare the natural frequency that was measured with the vibration on record."""
    known = _with(duty, "natural_frequency_hz", "vibration_hz")
    yield from _compared(
        "frequency", "main frequency of the vibration", known["natural_frequency_hz"],
        known["vibration_hz"].to_numpy(np.float64),
        ("bump test on the hose as fitted", "as recorded"))


def _beam_frequency(duty: pd.DataFrame) -> Iterator[pd.DataFrame]:
    """Compare the natural frequency of a beam with the vibration, where none was measured."""
    measured = _with(duty, "natural_frequency_hz", "vibration_hz").index
    names = ("bending_stiffness_n_m2", "mass_kg_per_m", "live_length_mm", "dn")
    known = _with(duty.drop(measured), *names, "vibration_hz")
    stiffness, dry, length, bore = (known[name] for name in names)
    water = frequency.water_mass_kg_m(WATER, 1.0) * math.pi / 4.0 * bore**2
    filled, empty = (_each(frequency.natural_frequency_hz, stiffness, mass, length)
                     for mass in (dry + water, dry))
    up, down = frequency.frequency_error()
    yield from _compared(
        "frequency", "main frequency of the vibration", pd.Series(filled, known.index),
        known["vibration_hz"].to_numpy(np.float64),
        ("beam between fixed ends, filled with water; upper end empty",
         "derived, catalogue stiffness 30 % either way"),
        lower=filled * (1.0 + down), upper=empty * (1.0 + up))


def _flow(duty: pd.DataFrame, speeds: list[dict[str, str]]) -> Iterator[pd.DataFrame]:
    """Compare the flow with every published speed for a straight braided hose."""
    known = _with(duty, "flow_velocity_m_s", "dn")
    for row in speeds:
        if row["layout"] not in ("any", "straight") or row["cover"] == "no braid":
            continue
        line = tuple(float(row[name]) for name in ("per_inch_ft_s", "up_to_inch", "beyond_ft_s"))
        limit = _each(lambda bore, line=line: flow.published_speed_m_s(bore, *line), known["dn"])
        yield from _compared("flow", f"{row['speed']}, {row['medium']}, {row['meaning']}",
                             known["flow_velocity_m_s"], limit, (row["source"], row["status"]))


def _vibration(duty: pd.DataFrame, lines: list[dict[str, str]]) -> Iterator[pd.DataFrame]:
    """Compare the measured velocity with every line for pipe."""
    known = _with(duty, "vibration_mm_s_rms")
    hz = known["vibration_hz"].fillna(0.0)
    for row in lines:
        limit = _each(lambda at, row=row: level_mm_s(row, at), hz)
        yield from _compared("vibration", row["line"], known["vibration_mm_s_rms"], limit,
                             (row["source"], row["status"]))
