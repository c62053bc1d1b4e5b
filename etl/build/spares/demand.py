"""What the stock of each part is to cover: its demand, lead time, deliveries and service level."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.forecast import FleetForecast
from etl.build.words import hazard_words
from etl.decide.spares.law import DemandLaw
from etl.decide.spares.need import ServiceLevel, lead_time_slices, service_level
from etl.decide.spares.stock import NONE, demand_over, shelf_cap
from etl.settings import Settings

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class PartDemand:
    """One part in service.

    Attributes
    ----------
    entry : dict
        Its row of ``fit.parts`` and ``fit.part_details``; None where nothing is recorded.
    mean, variance : ndarray, shape (n_draws, 12)
        Hoses used within 1 .. 12 months by failures and planned changes together.
    unplanned : tuple of (mean, variance)
        The same without the plan: by failures and removals by habit.
    planned : float
        Planned changes expected within twelve months.
    certain : ndarray, shape (n_planned,), days
        Days by which a planned change uses one hose each for certain.
    service : ServiceLevel
    lead_days, lead_sd_days : float
    is_lead_known : bool
    review_days : float
    """

    entry: dict[str, Any]
    mean: Floats
    variance: Floats
    unplanned: tuple[Floats, Floats]
    planned: float
    certain: Floats
    service: ServiceLevel
    lead_days: float
    lead_sd_days: float
    is_lead_known: bool
    review_days: float

    @property
    def on_hand(self) -> int | None:
        """Return what is in store, None without a stock log."""
        return None if self.entry["on_hand"] is None else _whole(self.entry["on_hand"])

    @property
    def on_order(self) -> int:
        """Return what is ordered and not yet delivered."""
        return _whole(self.entry["on_order"] or 0)

    @property
    def minimum_order(self) -> int:
        """Return the least number that can be ordered."""
        return _whole(self.entry["minimum_order"])

    @property
    def unit_price(self) -> float | None:
        """Return the price of one."""
        price = self.entry["unit_price"]
        return None if price is None else float(price)

    @property
    def receipts(self) -> list[tuple[float, int]]:
        """Return what is to come, as (days from the data date, number); no day: the lead time."""
        listed = self.entry["receipts"]
        found = listed if isinstance(listed, list | np.ndarray) else []
        return [(self.lead_days if item["days"] is None else float(item["days"]),
                 int(item["number"])) for item in found]

    def slices(self, factor: float = 1.0) -> tuple[Floats, Floats]:
        """Return days and weights of the lead time, all of it multiplied by a factor."""
        return lead_time_slices(factor * self.lead_days, factor * self.lead_sd_days)

    def protection(self, factor: float = 1.0, *, is_planned: bool = True) -> DemandLaw:
        """Return the law of demand over one review and the lead time."""
        days, weights = self.slices(factor)
        if not is_planned:
            return demand_over(*self.unplanned, days + self.review_days, weights)
        return self.within(days + self.review_days, weights)

    def within(self, days: Floats, weights: Floats | None = None) -> DemandLaw:
        """Return the law of demand over a span, itself uncertain or not."""
        return demand_over(self.mean, self.variance, days, weights, self.certain)

    def cap(self) -> int | None:
        """Return the largest stock likely used up within the shelf life; None without one."""
        life = self.entry["shelf_life_days"]
        if life is None:
            return None
        return shelf_cap(self.within(np.array([float(life)])))


def read_parts(
    con: duckdb.DuckDBPyConnection, fleet: FleetForecast, planned: dict[str, float],
    certain: dict[str, Floats], settings: Settings,
) -> list[PartDemand]:
    """Put demand and register of every part in service together, in order of part number.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds ``fit.parts`` and ``fit.part_details``.
    fleet : FleetForecast
    planned : dict
        Planned changes expected within twelve months by part.
    certain : dict
        Days of the changes that use a hose for certain, by part.
    settings : Settings

    Returns
    -------
    list of PartDemand
    """
    both, alone = fleet.by_part, fleet.by_part_unplanned
    number = {name: at for at, name in enumerate(both.names)}
    frame = con.execute(
        """
        select p.*, d.live_length_mm, d.end_a, d.end_b, d.shelf_life_days, d.next_due_on,
            d.receipts, d.counted_on as stock_counted_on, d.n_failures, d.n_suspensions
        from fit.parts as p join fit.part_details as d using (part_number) order by part_number
        """
    ).df()
    found = []
    for row in frame.to_dict("records"):
        entry = {str(name): _or_none(value) for name, value in row.items()}
        at = number[str(entry["part_number"])]
        lead = _number(entry["lead_time_days"], settings.lead_time_days_if_unknown)
        found.append(PartDemand(
            entry, both.mean[at], both.variance[at], (alone.mean[at], alone.variance[at]),
            planned.get(str(entry["part_number"]), 0.0),
            certain.get(str(entry["part_number"]), NONE), _service(entry, settings), lead,
            _number(entry["lead_time_sd_days"], settings.lead_time_spread * lead),
            entry["lead_time_days"] is not None, float(settings.review_days)))
    return found


def _service(entry: dict[str, Any], settings: Settings) -> ServiceLevel:
    """Return the service level of a part by the places that use it."""
    return service_level(
        hazard_words(entry["hazards"]), _number(entry["downtime_cost_per_hour"], np.nan),
        ordinary=settings.service_level_ordinary, costly=settings.service_level_costly,
        hazardous=settings.service_level_hazardous, costly_from=settings.costly_downtime_per_hour)


def _whole(value: Any) -> int:
    """Return a count, which stands as a fraction where other parts have none."""
    return int(value)


def _number(value: Any, otherwise: float) -> float:
    return otherwise if value is None else float(value)


def _or_none(value: Any) -> Any:
    """Return a value as plain Python; None where nothing is recorded."""
    if isinstance(value, list | np.ndarray):
        return value
    if value is None or pd.isna(value):
        return None
    return value.date() if isinstance(value, dt.datetime) else value
