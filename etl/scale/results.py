"""The tables of a fleet: months, the worst places, and what the figures rest on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl import __version__
from etl.build.forecast import late_frame, scope_frame
from etl.build.forecast_sums import Moments
from etl.build.statistics import number_or_gap
from etl.decide.ranking import rank_places
from etl.life.frailty import shrunken_rates
from etl.life.renewal import N_MONTHS
from etl.life.reporting_delay import IN_TIME
from etl.scale.forecasts import MonthSums
from etl.scale.partitions import FleetList
from etl.scale.places import Peers
from etl.scale.pool import Cells
from etl.scale.worst import LISTED, Worst
from etl.settings import Settings

Floats = NDArray[np.float64]

TABLES = {
    "fleet": "as_of", "fits": "application_class, construction, mechanism",
    "forecast": "scope, scope_name, month", "worst_places": "rank",
    "fleet_partitions": "application_class, site",
}
"""Published tables and what orders them."""


class MonthTotals:
    """Adds up the months of atoms by scope, in the order in which they come."""

    def __init__(self) -> None:
        """Begin with nothing."""
        self._sums: dict[tuple[str, str], Floats] = {}
        self._missing: Floats = np.zeros((2, 1))

    def add(self, months: Iterable[MonthSums]) -> None:
        """Add some atoms."""
        for atom in months:
            self._missing = self._missing + atom.missing
            for key in (("fleet", "all"), ("site", atom.site),
                        ("application_class", atom.application_class)):
                held = self._sums.get(key)
                self._sums[key] = atom.sums.copy() if held is None else held + atom.sums

    def late(self, confidence: float) -> pd.DataFrame:
        """Return one row: failures thought to have happened without being on record."""
        frame = late_frame(self._missing[0], self._missing[1], IN_TIME, confidence)
        return frame[["late_failures", "late_failures_lower", "late_failures_upper"]]

    def frame(self, as_of: dt.date, confidence: float) -> pd.DataFrame:
        """Return counts and cost of each scope in each month, with predictive ranges."""
        start = pd.Timestamp(as_of) + pd.Timedelta(days=1)
        months = pd.DatetimeIndex([start + pd.DateOffset(months=k) for k in range(N_MONTHS)])
        frames = []
        for scope in ("fleet", "site", "application_class"):
            names = tuple(sorted(name for kind, name in self._sums if kind == scope))
            if names:
                parts = np.stack([self._sums[scope, name] for name in names], axis=1)
                frames.append(scope_frame(scope, Moments(names, *parts), months, confidence))
        return pd.concat(frames, ignore_index=True) if frames else pd.DataFrame(columns=[
            "month", "scope", "scope_name", "mean", "lower", "upper", "cost_mean", "cost_lower",
            "cost_upper"])


def worst_frame(worst: Worst | None, peers: Peers, confidence: float) -> pd.DataFrame:
    """Return the places that are expected to cost most, ranked in every draw."""
    if worst is None:
        return pd.DataFrame(columns=["rank"])
    known = np.where(np.isfinite(worst.price), 0.0, np.nan)
    usual = np.where(np.isfinite(worst.price), worst.price, peers.usual_price)
    ranking = rank_places(worst.failures, usual, confidence=confidence)
    tail = (1.0 - confidence) / 2.0
    lower, upper = np.quantile(worst.failures, [tail, 1.0 - tail], axis=1)
    rate, rate_lower, rate_upper, chance = shrunken_rates(
        worst.seen, worst.expected, peers.concentration, confidence)
    parted = [name.split("\x1f", 1) for name in worst.name]
    frame = pd.DataFrame({
        "rank": ranking.rank, "site": [name[0] for name in parted],
        "service_point": [name[1] for name in parted],
        "application_class": worst.application_class, "construction": worst.construction,
        "age_days": worst.age,
        "expected_failures": worst.failures.mean(axis=1, dtype=np.float64),
        "expected_failures_lower": lower, "expected_failures_upper": upper,
        "expected_cost": number_or_gap(ranking.cost + known),
        "expected_cost_lower": number_or_gap(ranking.lower + known),
        "expected_cost_upper": number_or_gap(ranking.upper + known),
        "probability_worst_ten": ranking.worst_ten_probability,
        "failure_probability_90_days": worst.chance,
        "observed_failures": worst.seen.astype(int), "failures_expected_so_far": worst.expected,
        "relative_rate": rate, "relative_rate_lower": rate_lower,
        "relative_rate_upper": rate_upper, "is_failure_prone": chance >= peers.prone_from,
    })
    return frame.sort_values("rank").head(LISTED).reset_index(drop=True)


def fleet_frame(
    listed: FleetList, cells: Cells, peers: Peers, late: pd.DataFrame, settings: Settings
) -> pd.DataFrame:
    """Return one row: what the tables of a fleet rest on."""
    parts = listed.partitions
    frame = pd.DataFrame({
        "as_of": [listed.as_of], "currency": listed.currency, "software_version": __version__,
        "n_sites": len({part.site for part in parts}), "n_partitions": len(parts),
        "n_service_points": sum(part.n_places for part in parts),
        "n_lives": int(cells.totals["n_lives"].sum()),
        "n_failures": int(cells.totals["n_failures"].sum()),
        "confidence": settings.confidence,
        "rate_concentration": number_or_gap(np.array([peers.concentration])),
    })
    return pd.concat([frame, late], axis=1)


def partitions_frame(listed: FleetList) -> pd.DataFrame:
    """Return one row a partition: its rows, as listed."""
    return pd.DataFrame({
        "application_class": [part.application_class for part in listed.partitions],
        "site": [part.site for part in listed.partitions],
        "n_lives": [part.n_lives for part in listed.partitions],
        "n_service_points": [part.n_places for part in listed.partitions],
        "on_record_in_month": [part.on_record[0] for part in listed.partitions],
        "months_until_on_record": [len(part.on_record) - 1 for part in listed.partitions],
    })
