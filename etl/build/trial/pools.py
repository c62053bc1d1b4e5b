"""Like places that could take part in a trial, and the two constructions that suit them all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import duckdb
import numpy as np
import pandas as pd

from etl.build.trial.table import Constructions, places_in_trial
from etl.build.words import hazard_words
from etl.decide.eligibility import Candidate, Duty, objection
from etl.decide.next_step import TRIAL_SHARE
from etl.decide.trial.candidates import TRIAL_MECHANISMS, Contrast, contrasting_pair
from etl.decide.trial.pairs import Pair, Place, pair_places

CONSIDERED = 60
"""Groups of like places that are looked at, those with the dearest place first."""
DUTY = ("dn", "pressure_bar", "temperature_c", "bend_radius_mm")
NUMBERS = (*DUTY, "expected_failures", "expected_cost", "observed_failures", "cost_per_failure",
           "place")
TEXTS = ("service_point", "application_class", "site", "line", "equipment", "hazards",
         "construction", "is_failure_prone")
LEAST_FAILURES = 2
LEAST_EXPECTED = 0.5
"""Failures so far, and failures expected in a year, below which no trial begins at a place."""


@dataclass(frozen=True)
class Pool:
    """Like places, one of which calls for a trial.

    Attributes
    ----------
    anchor : dict
        The place that calls for it, a row of the ranking with the register's columns.
    members : DataFrame
        All like places that both arms suit, the anchor among them, by falling expected failures.
    pairs : list of Pair
        The anchor's pair first, then by falling expected failures.
    arms : Contrast
    mechanism : str
    share : float
        Share of the anchor's failures by it.
    """

    anchor: dict[str, Any]
    members: pd.DataFrame
    pairs: list[Pair]
    arms: Contrast
    mechanism: str
    share: float


def pools(
    con: duckdb.DuckDBPyConnection, places: pd.DataFrame,
    mechanism: Mapping[str, tuple[str, float]], choice: Constructions,
) -> list[Pool]:
    """Return the groups of like places that call for a trial, the dearest place first.

    Parameters
    ----------
    con : DuckDBPyConnection
    places : DataFrame
        One row a service point in rank order, with the columns of the ranking and of
        ``fit.places``.
    mechanism : mapping of service point to (mechanism, share)
        Commonest concluded mechanism of its failures.
    choice : Constructions

    Returns
    -------
    list of Pool
        Like places have the same class, site, nominal size and hazards. A place whose mechanism
        asks for another cure, or a cure that safety asks for, calls for no trial; nor does one
        that takes part in a trial already.
    """
    frame = _eligible(con, places)
    out: list[Pool] = []
    n_seen = 0
    for _, members in frame.groupby("pool", sort=False):
        anchor = _anchor(members, mechanism)
        if anchor is None:
            continue
        n_seen += 1
        if n_seen > CONSIDERED:
            break
        pool = _pool(anchor, members, mechanism, choice)
        if pool is not None:
            out.append(pool)
    return out


def _eligible(con: duckdb.DuckDBPyConnection, places: pd.DataFrame) -> pd.DataFrame:
    """Return the places with a hose and a forecast that are in no trial, with their pool."""
    machines = con.execute(
        "select service_point, equipment from clean.service_points order by service_point").df()
    busy = places_in_trial(con)
    frame = places.merge(machines, on="service_point", how="left", validate="1:1")
    frame = frame.loc[frame["construction"].notna() & frame["expected_failures"].notna()
                      & ~frame["service_point"].isin(busy), [*TEXTS, *NUMBERS]].copy()
    for name in NUMBERS:
        frame[name] = frame[name].to_numpy(np.float64, na_value=np.nan)
    columns = (frame[name] for name in ("application_class", "site", "dn", "hazards"))
    frame["pool"] = [
        "\x1f".join((str(kind), str(site), str(dn), ",".join(hazard_words(hazards))))
        for kind, site, dn, hazards in zip(*columns, strict=True)
    ]
    return frame


def _anchor(
    members: pd.DataFrame, mechanism: Mapping[str, tuple[str, float]]
) -> dict[str, Any] | None:
    """Return the highest ranked place of a pool at which a trial could pay and read out."""
    is_wanted = ((members["expected_failures"] >= LEAST_EXPECTED)
                 & (members["observed_failures"] >= LEAST_FAILURES)).to_numpy(np.bool_)
    names = members["service_point"].tolist()
    for at in np.flatnonzero(is_wanted):
        cause, share = mechanism.get(str(names[at]), ("unknown", 0.0))
        if cause in TRIAL_MECHANISMS or share < TRIAL_SHARE:
            return {str(name): members[name].iloc[at] for name in members.columns}
    return None


def _pool(
    anchor: dict[str, Any], members: pd.DataFrame, mechanism: Mapping[str, tuple[str, float]],
    choice: Constructions,
) -> Pool | None:
    """Choose the arms for the anchor, and keep the like places that both of them suit."""
    decided = choice.verdicts.get(str(anchor["application_class"]), {})
    arms = contrasting_pair(choice.catalogue, duty_of(anchor), choice.derating, decided)
    if isinstance(arms, str):
        return None
    size = known(anchor["dn"])  # that of all members
    tried = [item for item in choice.catalogue if item.construction in (arms.flexible, arms.stiff)
             and (size is None or item.dn in (None, size))]
    duties = [Duty(*map(known, values))
              for values in zip(*(members[name].tolist() for name in DUTY), strict=True)]
    told = {duty: _suits(duty, tried, choice) for duty in set(duties)}  # many are alike
    suits = [told[duty] for duty in duties]
    kept = members[suits].sort_values(["expected_failures", "service_point"],
                                      ascending=[False, True])
    seats = zip(*(kept[name].tolist() for name in (
        "service_point", "equipment", "line", "site", "expected_failures")), strict=True)
    pairs = pair_places([Place(str(name), _text(machine), _text(line), _text(site), failures)
                         for name, machine, line, site, failures in seats])
    mine = [pair for pair in pairs if anchor["service_point"] in (pair.first, pair.second)]
    cause, share = mechanism.get(str(anchor["service_point"]), ("unknown", 0.0))
    return Pool(anchor, kept, mine + [pair for pair in pairs if pair not in mine], arms, cause,
                share)


def _suits(duty: Duty, tried: list[Candidate], choice: Constructions) -> bool:
    """Tell whether both arms are made for a place."""
    able = {item.construction for item in tried if objection(item, duty, choice.derating) is None}
    return len(able) == 2


def duty_of(row: Mapping[Any, Any]) -> Duty:
    """Return what the register says of a place's duty."""
    return Duty(*(known(row[name]) for name in DUTY))


def known(value: object) -> float | None:
    """Return a number, or None where the register is silent."""
    if value is None or value is pd.NA:
        return None
    number = float(str(value))
    return number if number == number else None


def _text(value: object) -> str:
    return "" if value is None or value != value else str(value)
