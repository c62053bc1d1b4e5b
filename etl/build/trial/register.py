"""Registered trials as the log has them: arms, pairs, the rule, and the stays at their places."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.words import hazard_words
from etl.decide.next_step import DANGEROUS

Floats = NDArray[np.float64]
Row = dict[str, Any]


@dataclass(frozen=True)
class Seat:
    """A place of a trial."""

    service_point: str
    arm: str
    construction: str
    pair: str
    retired_on: dt.date | None


@dataclass(frozen=True)
class Trial:
    """One registered trial.

    Attributes
    ----------
    name, application_class : str
    arms : tuple of str
        Sorted; the second is the one that ratios put above.
    constructions : tuple of str
        Of the arms.
    pairs : list of (Seat, Seat)
        First and second arm.
    seats : list of Seat
        All places, those without a mate too.
    started_on : date
    stop : date
        Last day that counts: the end, the planned end or the data date.
    ended_on, planned_end_on : date or None
    is_paired_before : bool
        The log names the pairs.
    is_hazardous : bool
    row : dict
        What the log holds of the trial as a whole.
    """

    name: str
    application_class: str
    arms: tuple[str, ...]
    constructions: tuple[str, ...]
    pairs: list[tuple[Seat, Seat]]
    seats: list[Seat]
    started_on: dt.date
    stop: dt.date
    ended_on: dt.date | None
    planned_end_on: dt.date | None
    is_paired_before: bool
    is_hazardous: bool
    row: Row

    @property
    def is_registered(self) -> bool:
        """The pairs, the planned end and the planned failures were fixed before the start."""
        return (self.is_paired_before and self.planned_end_on is not None
                and (self.row["planned_failures"] or 0.0) > 0.0)

    def days(self, day: dt.date) -> float:
        """Return a day as days after the start."""
        return float((day - self.started_on).days)


def registered_trials(con: duckdb.DuckDBPyConnection, as_of: dt.date) -> list[Trial]:
    """Read the trials log, one entry a trial, by name."""
    frame = con.execute(
        """
        select t.*, p.application_class, p.equipment, p.hazards, p.retired_on
        from clean.trials as t join clean.service_points as p using (service_point)
        order by t.trial, t.service_point, t.arm, t.construction, t.started_on
        """
    ).fetchall()
    names = [column[0] for column in con.description or ()]
    rows = [dict(zip(names, values, strict=True)) for values in frame]
    out: list[Trial] = []
    for name in sorted({row["trial"] for row in rows}):
        out.append(_trial(name, [row for row in rows if row["trial"] == name], as_of))
    return out


def _trial(name: str, rows: list[Row], as_of: dt.date) -> Trial:
    """Put the rows of one trial together."""
    arms = tuple(sorted({row["arm"] for row in rows}))
    seats, is_before = _seats(rows)
    started = min(row["started_on"] for row in rows)
    ended = (None if any(row["ended_on"] is None for row in rows)
             else max(row["ended_on"] for row in rows))
    planned = max((row["planned_end_on"] for row in rows if row["planned_end_on"]), default=None)
    stop = min(day for day in (as_of, ended, planned) if day is not None)
    whole = {key: _first(rows, key) for key in (
        "decision", "planned_failures", "early_failure_limit", "expected_life_ratio_log_sd",
        "coin_seed", "rule")}
    second = [row for row in rows if row["arm"] == arms[-1]]
    whole["expected_life_ratio"] = _first(second, "expected_life_ratio")
    hazards = {word for row in rows for word in hazard_words(row["hazards"])}
    return Trial(
        name, Counter(row["application_class"] for row in rows).most_common(1)[0][0], arms,
        tuple(_first([row for row in rows if row["arm"] == arm], "construction") for arm in arms),
        _pairs(seats, arms), seats, started, stop, ended, planned, is_before,
        bool(DANGEROUS.intersection(hazards)), whole,
    )


def _first(rows: Sequence[Row], key: str) -> Any:
    """Return the first value that is known, in the order of the places."""
    return next((row[key] for row in rows if row[key] is not None), None)


def _seats(rows: list[Row]) -> tuple[list[Seat], bool]:
    """Return the places, and whether the log names their pairs; else the machine stands for it."""
    is_before = all(row["pair"] is not None for row in rows)
    return [
        Seat(row["service_point"], row["arm"], row["construction"],
             (row["pair"] if is_before else row["equipment"]) or "", row["retired_on"])
        for row in rows
    ], is_before


def _pairs(seats: list[Seat], arms: tuple[str, ...]) -> list[tuple[Seat, Seat]]:
    """Return the pairs that have one place in each of two arms."""
    if len(arms) != 2:
        return []
    out = []
    for pair in sorted({seat.pair for seat in seats if seat.pair}):
        mine = sorted((seat for seat in seats if seat.pair == pair), key=lambda seat: seat.arm)
        if [seat.arm for seat in mine] == list(arms) and (
                mine[0].service_point != mine[1].service_point):
            out.append((mine[0], mine[1]))
    return out


def stays_of(con: duckdb.DuckDBPyConnection, trials: Sequence[Trial]) -> pd.DataFrame:
    """Read every stay in the classes of the trials, with the age that each hose brought along."""
    classes = sorted({trial.application_class for trial in trials})
    return con.execute(
        """
        select life_id, hose_id, service_point, application_class, construction, kind,
            is_unknown_reason, installed_on, removed_on, is_open, is_fitted,
            entry_age_days as entry, age_low_days as low, age_high_days as high,
            carried_age_days as carried
        from lives.lives
        where list_contains(?, application_class) order by life_id
        """, [classes]
    ).df()
