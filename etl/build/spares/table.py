"""Spares: demand of each part by failures and plans, the stock for its service level, the order."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from etl.build.spares.demand import PartDemand
from etl.build.spares.words import spares_reason
from etl.decide.spares.law import DemandLaw
from etl.decide.spares.need import lead_time_quantile
from etl.decide.spares.stock import (
    days_covered,
    demand_over,
    order_quantity,
    shortage_before_delivery,
    stock_advice,
)
from etl.life.renewal import DAYS_A_MONTH

HORIZONS = (3, 6, 12)
REGISTER = ("part_number", "construction", "dn", "n_places", "live_length_mm", "end_a", "end_b",
            "unit_price", "minimum_order", "shelf_life_days", "stock_counted_on", "next_due_on",
            "n_failures", "n_suspensions")

COLUMNS = [
    *REGISTER,
    *(f"{name}_{months}_months" for months in HORIZONS
      for name in ("mean", "lower", "upper", "stock")),
    "mean", "stock_level", "reorder_point", "order_now", "on_hand", "on_order", "service_level",
    "service_level_reason", "level_met", "share_served", "stock_level_if_lives_certain",
    "shelf_cap", "lead_time_days", "lead_time_days_upper", "is_lead_time_recorded",
    "shortage_probability", "days_covered", "overstock", "planned_12_months", "budget_12_months",
    "budget_12_months_lower", "budget_12_months_upper", "budget_12_months_p50",
    "budget_12_months_p90", "reason",
]
WHOLE = ("order_now", "on_hand", "on_order", "dn", "overstock", "shelf_cap", "minimum_order",
         "days_covered")
REAL = ("unit_price", "live_length_mm", "shelf_life_days", "shortage_probability",
        *(name for name in COLUMNS if name.startswith("budget")))
LATE = 0.95
"""Share of deliveries that come within the stated upper lead time."""


def spares_table(found: list[PartDemand], confidence: float) -> pd.DataFrame:
    """Advise on the stock of every part now in service.

    Parameters
    ----------
    found : list of PartDemand
    confidence : float
        Content of the ranges.

    Returns
    -------
    DataFrame
        One row a part, columns as `COLUMNS`. What is not recorded is empty.
    """
    frame = pd.DataFrame([_row(part, confidence) for part in found], columns=COLUMNS)
    for column in WHOLE:
        frame[column] = frame[column].astype("Int64")
    for column in REAL:
        frame[column] = frame[column].astype("Float64")
    for column in ("next_due_on", "stock_counted_on"):
        frame[column] = pd.to_datetime(frame[column])
    for column in ("end_a", "end_b"):
        frame[column] = frame[column].astype("string")
    return frame


def _row(part: PartDemand, confidence: float) -> dict[str, Any]:
    """Return the advice for one part."""
    law, cap = part.protection(), part.cap()
    advice = stock_advice(law, part.service.level, least=part.service.least, most=cap)
    row: dict[str, Any] = {name: part.entry[name] for name in REGISTER} | {
        "mean": law.mean, "stock_level": advice.stock_level,
        "reorder_point": advice.reorder_point, "on_hand": part.on_hand,
        "on_order": part.entry["on_order"], "service_level": part.service.level,
        "service_level_reason": part.service.reason, "level_met": advice.level_met,
        "share_served": advice.share_served, "shelf_cap": cap,
        "stock_level_if_lives_certain": _if_certain(part, cap),
        "lead_time_days": part.lead_days, "is_lead_time_recorded": part.is_lead_known,
        "lead_time_days_upper": lead_time_quantile(part.lead_days, part.lead_sd_days, LATE),
        "planned_12_months": part.planned,
    }
    ends = ((1.0 - confidence) / 2.0, (1.0 + confidence) / 2.0)
    for months in HORIZONS:
        span = part.within(np.array([months * DAYS_A_MONTH]))
        row |= {f"mean_{months}_months": span.mean,
                f"lower_{months}_months": span.level(ends[0]),
                f"upper_{months}_months": span.level(ends[1]),
                f"stock_{months}_months": span.level(part.service.level)}
    row |= _budget(part.unit_price, span, ends)  # the last span is the year
    row |= _order(part, advice.stock_level, row["stock_12_months"])
    return row | {"reason": spares_reason(part, row)}


def _if_certain(part: PartDemand, cap: int | None) -> int:
    """Return the stock level if the lives were known to be as their mean says."""
    days, weights = part.slices()
    law = demand_over(part.mean.mean(axis=0, keepdims=True),
                      part.variance.mean(axis=0, keepdims=True), days + part.review_days, weights,
                      part.certain)
    return stock_advice(law, part.service.level, least=part.service.least, most=cap).stock_level


def _order(part: PartDemand, stock_level: int, year: int) -> dict[str, Any]:
    """Return what to order, what is too much, and whether an order comes too late."""
    if part.on_hand is None:
        return {}
    position = part.on_hand + part.on_order
    order = order_quantity(stock_level, position, part.minimum_order)
    return {
        "order_now": order, "days_covered": _covered(part) if order else None,
        "overstock": max(0, position - max(year, stock_level)),
        "shortage_probability": shortage_before_delivery(
            part.mean, part.variance, part.on_hand, part.receipts, *part.slices(),
            part.certain),
    }


def _covered(part: PartDemand) -> int | None:
    """Return for how many days what is here and on order is enough; None for the year ahead."""
    there = part.on_hand or 0
    if there + part.on_order < part.service.least:
        return 0  # a place that cannot wait has nothing to fall back on
    days = days_covered(part.mean, part.variance, there, part.receipts, part.service.level,
                        part.certain)
    return int(days) if np.isfinite(days) else None


def _budget(price: float | None, year: DemandLaw, ends: tuple[float, float]) -> dict[str, Any]:
    """Return what twelve months of changes cost in parts, with a predictive range."""
    if price is None:
        return {}
    name = "budget_12_months"
    return {name: price * year.mean, f"{name}_lower": price * year.level(ends[0]),
            f"{name}_upper": price * year.level(ends[1]), f"{name}_p50": price * year.level(0.5),
            f"{name}_p90": price * year.level(0.9)}
