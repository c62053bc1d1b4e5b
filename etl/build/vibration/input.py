"""Which lives and readings speak of vibration, as arrays."""

from __future__ import annotations

import math
from dataclasses import dataclass

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.statistics import LifeStatistics
from etl.build.trial.table import catalogue
from etl.build.vibration.history import rival_rates, vibration_share, whole_lives
from etl.decide.eligibility import Candidate
from etl.decide.screens import frequency
from etl.life.vibration.data import REFERENCE_MM_S, VibrationData

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

WATER = 1000.0
"""Density, kg/m3: hoses are taken as filled with water; gas is lighter and raises the frequency."""
FLOW_UNIT_M_S = 5.0


@dataclass(frozen=True)
class VibrationInput:
    """What the regression starts from, with names.

    Attributes
    ----------
    data : VibrationData
    places : DataFrame
        One row a place: service_point, application_class, construction (present), duty.
    classes, constructions : tuple of str
    natural_hz : ndarray, shape (n_places, n_constructions)
        First natural frequency: measured there, else by the catalogue; NaN unknown.
    is_measured : ndarray of bool, shape (n_places, n_constructions)
        Whether it was measured.
    hoses : list of Candidate
        The catalogue.
    """

    data: VibrationData
    places: pd.DataFrame
    classes: tuple[str, ...]
    constructions: tuple[str, ...]
    natural_hz: Floats
    is_measured: NDArray[np.bool_]
    hoses: list[Candidate]


def read_vibration(con: duckdb.DuckDBPyConnection, found: LifeStatistics) -> VibrationInput | None:
    """Gather lives, readings and duties of the application classes that vibrate.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds the tables of ``sql/fit/vibration``.
    found : LifeStatistics

    Returns
    -------
    VibrationInput or None
        None where no life or no reading is to be had. A class counts as vibrating as soon as one
        of its places was measured; its other places' velocities are then unknown, not nought.
    """
    lives, is_doubtful = whole_lives(con, found.lives)
    rival, likely = rival_rates(con, found, lives, is_doubtful)
    places = con.execute("select * from fit.vibration_places order by place").df()
    readings = con.execute(
        "select place, vibration_mm_s_rms from fit.vibration_readings order by all").fetchnumpy()
    read_at = np.asarray(readings["place"], np.int64)
    read_classes = set(places["application_class"].to_numpy()[read_at])
    is_in = places["application_class"].isin(read_classes).to_numpy()
    is_in = is_in & (np.bincount(lives.place, minlength=len(places)) > 0)
    if not is_in.any() or not is_in[read_at].any():
        return None
    number = np.cumsum(is_in) - 1
    mine = is_in[lives.place]
    used = lives.cell_construction[lives.cell[mine]]
    codes = np.unique(used)
    constructions = tuple(lives.constructions[code] for code in codes)
    places = places[is_in].reset_index(drop=True)
    classes = tuple(sorted(set(places["application_class"])))
    hoses = catalogue(con)
    natural = natural_frequencies(places, constructions, hoses)
    known = measured_frequencies(con, number, is_in, constructions)
    natural = np.where(np.isnan(known), natural, known)
    seen = is_in[read_at]
    hz = places["vibration_hz"].to_numpy(np.float64)
    data = VibrationData(
        place=number[lives.place[mine]], construction=np.searchsorted(codes, used),
        entry=lives.entry[mine], low=lives.low[mine],
        high=np.where(lives.mechanism[mine] == -1, np.inf, lives.high[mine]),
        failure=np.where(is_doubtful, likely, vibration_share(found, lives))[mine],
        count=lives.count[mine],
        group=np.array([classes.index(name) for name in places["application_class"]], np.int64),
        covariates=_covariates(places),
        log_frequency_ratio=np.log(hz)[:, None] - np.log(natural),
        stiffness=_stiffness(constructions, hoses),
        reading_place=number[read_at[seen]],
        reading=np.log(np.asarray(readings["vibration_mm_s_rms"], np.float64)[seen]
                       / REFERENCE_MM_S),
        rival=rival[mine],
    )
    return VibrationInput(data, places, classes, constructions, natural, ~np.isnan(known), hoses)


def measured_frequencies(
    con: duckdb.DuckDBPyConnection, number: Ints, is_in: NDArray[np.bool_],
    constructions: tuple[str, ...],
) -> Floats:
    """Return the natural frequency of every construction at every place where one was measured.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds ``fit.vibration_natural``.
    number, is_in : ndarray, shape (n_all_places,)
        Code of each place that vibrates, and which do.
    constructions : tuple of str

    Returns
    -------
    ndarray, shape (n_places, n_constructions), Hz
        NaN where nothing was measured.
    """
    found = np.full((int(is_in.sum()), len(constructions)), math.nan)
    for place, name, hz in con.execute(
            "select place, construction, natural_frequency_hz from fit.vibration_natural order by"
            " all").fetchall():
        if is_in[place] and name in constructions:
            found[number[place], constructions.index(name)] = hz
    return found


def natural_frequencies(
    places: pd.DataFrame, constructions: tuple[str, ...], hoses: list[Candidate]
) -> Floats:
    """Return the first natural frequency that every construction would have at every place, Hz.

    Parameters
    ----------
    places : DataFrame
        With dn and live_length_mm.
    constructions : tuple of str
    hoses : list of Candidate

    Returns
    -------
    ndarray, shape (n_places, n_constructions)
        A straight hose between fixed ends, filled with water; NaN where the catalogue or the
        register is silent.
    """
    entries = {(hose.construction, hose.dn): hose for hose in hoses}
    found = np.full((len(places), len(constructions)), math.nan)
    sizes = places[["dn", "live_length_mm"]].to_numpy(np.float64)
    for row, (dn, length) in enumerate(sizes):
        if not (dn > 0 and length > 0):
            continue
        water = frequency.water_mass_kg_m(WATER, math.pi / 4.0 * dn**2)
        for column, name in enumerate(constructions):
            hose = entries.get((name, dn))
            if hose and (hose.bending_stiffness_n_m2 or 0) > 0 and hose.mass_kg_per_m:
                found[row, column] = frequency.natural_frequency_hz(
                    float(hose.bending_stiffness_n_m2 or 0), hose.mass_kg_per_m + water, length)
    return found


def _stiffness(constructions: tuple[str, ...], hoses: list[Candidate]) -> Floats:
    """Return log stiffness against other constructions of the same size; 0 where unknown."""
    by_size: dict[float | None, list[Candidate]] = {}
    for hose in hoses:
        if hose.construction in constructions and (hose.bending_stiffness_n_m2 or 0) > 0:
            by_size.setdefault(hose.dn, []).append(hose)
    apart: dict[str, list[float]] = {}
    for same in by_size.values():
        logs = [math.log(float(hose.bending_stiffness_n_m2 or 1)) for hose in same]
        middle = sum(logs) / len(logs)
        for hose, value in zip(same, logs, strict=True):
            apart.setdefault(hose.construction, []).append(value - middle)
    return np.array([
        sum(apart[name]) / len(apart[name]) if name in apart else 0.0 for name in constructions])


def _covariates(places: pd.DataFrame) -> Floats:
    """Return log pressure and flow against the class's own mean; 0 where not recorded.

    A column of which nothing is recorded is left out: it would be nothing but its prior.
    """
    pressure = places["pressure_bar"].astype(np.float64)
    flow = places["flow_velocity_m_s"].astype(np.float64) / FLOW_UNIT_M_S
    columns = []
    for values in (pressure.where(pressure > 0).map(np.log), flow):
        apart = values - values.groupby(places["application_class"]).transform("mean")
        filled = apart.fillna(0.0).to_numpy(np.float64)
        if np.abs(filled).max(initial=0.0) > 0:
            columns.append(filled)
    return np.stack(columns, axis=1) if columns else np.empty((len(places), 0))
