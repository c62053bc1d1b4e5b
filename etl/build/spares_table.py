"""Spares: demand of each part by failures and plans, the stock for its service level, the order."""

from __future__ import annotations

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import stats

from etl.build.forecast import FleetForecast
from etl.build.words import hazard_words
from etl.decide.spares import (
    ServiceLevel,
    lead_time_slices,
    order_quantity,
    service_level,
    stock_advice,
)
from etl.decide.words import percent
from etl.life.counts import count_quantile, count_range
from etl.settings import Settings

Floats = NDArray[np.float64]
HORIZONS = (3, 6, 12)

COLUMNS = [
    "part_number", "construction", "dn", "n_places",
    *(f"{name}_{months}_months" for months in HORIZONS
      for name in ("mean", "lower", "upper", "stock")),
    "mean", "stock_level", "reorder_point", "order_now", "on_hand", "on_order", "service_level",
    "service_level_reason", "lead_time_days", "planned_12_months", "unit_price", "budget_12_months",
    "budget_12_months_lower", "budget_12_months_upper", "reason",
]


def spares_table(
    con: duckdb.DuckDBPyConnection, fleet: FleetForecast, planned: dict[str, float],
    settings: Settings,
) -> pd.DataFrame:
    """Advise on the stock of every part now in service.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds ``fit.parts``.
    fleet : FleetForecast
    planned : dict
        Planned changes expected within twelve months by part; they are part of the demand.
    settings : Settings

    Returns
    -------
    DataFrame
        One row a part, columns as `COLUMNS`. What is not recorded is empty.
    """
    sums = fleet.by_part
    number = {name: at for at, name in enumerate(sums.names)}
    rows = []
    for part in con.execute("select * from fit.parts order by part_number").df().itertuples():
        at = number[str(part.part_number)]
        rows.append(_row(part, sums.mean[at], sums.variance[at],
                         planned.get(str(part.part_number), 0.0), settings))
    frame = pd.DataFrame(rows, columns=COLUMNS)
    for column in ("order_now", "on_hand", "on_order", "dn"):
        frame[column] = frame[column].astype("Int64")
    for column in ("unit_price", "budget_12_months", "budget_12_months_lower",
                   "budget_12_months_upper"):
        frame[column] = frame[column].astype("Float64")
    return frame


def _row(part, mean: Floats, variance: Floats, planned: float, settings: Settings):  # type: ignore[no-untyped-def]
    """Return the advice for one part."""
    variance = np.maximum(variance, 1e-3 * mean)
    level = service_level(
        hazard_words(part.hazards),
        _number(part.downtime_cost_per_hour, np.nan),
        ordinary=settings.service_level_ordinary, costly=settings.service_level_costly,
        hazardous=settings.service_level_hazardous, costly_from=settings.costly_downtime_per_hour,
    )
    lead = _number(part.lead_time_days, settings.lead_time_days_if_unknown)
    spread = _number(part.lead_time_sd_days, settings.lead_time_spread * lead)
    advice = stock_advice(mean, variance, *lead_time_slices(lead, spread),
                          review_days=settings.review_days, level=level.level)
    row: dict[str, object] = {
        "part_number": part.part_number, "construction": part.construction,
        "dn": _or_none(part.dn), "n_places": part.n_places, "mean": advice.mean,
        "stock_level": advice.stock_level, "reorder_point": advice.reorder_point,
        "service_level": level.level, "service_level_reason": level.reason,
        "lead_time_days": lead, "planned_12_months": planned,
        "unit_price": _or_none(part.unit_price),
        "on_hand": _or_none(part.on_hand), "on_order": _or_none(part.on_order),
    }
    for months in HORIZONS:
        m, v = mean[:, months - 1], variance[:, months - 1]
        lower, upper = count_range(m, v, settings.confidence)
        row |= {f"mean_{months}_months": float(m.mean()), f"lower_{months}_months": lower,
                f"upper_{months}_months": upper,
                f"stock_{months}_months": count_quantile(m, v, level.level)}
    row |= _budget(row["unit_price"], mean[:, -1], variance[:, -1], settings.confidence)
    order = None
    if row["on_hand"] is not None:
        position = int(part.on_hand) + int(_number(part.on_order, 0))
        order = order_quantity(advice.stock_level, position, int(part.minimum_order))
    row["order_now"] = order
    row["reason"] = _reason(row, level, is_lead_known=not pd.isna(part.lead_time_days))
    return row


def _budget(price: object, mean: Floats, variance: Floats, confidence: float) -> dict[str, object]:
    """Return what twelve months of changes cost in parts, with a predictive range."""
    if price is None:
        return dict.fromkeys(
            ("budget_12_months", "budget_12_months_lower", "budget_12_months_upper"))
    each = float(str(price))
    reach = float(stats.norm.ppf(0.5 + confidence / 2.0))
    spread = reach * float(np.sqrt(variance.mean() + mean.var()))
    middle = float(mean.mean())
    return {"budget_12_months": each * middle,
            "budget_12_months_lower": each * max(0.0, middle - spread),
            "budget_12_months_upper": each * (middle + spread)}


def _reason(row: dict[str, object], level: ServiceLevel, *, is_lead_known: bool) -> str:
    """Say what sets the stock level."""
    lead = f"{row['lead_time_days']:.0f} days lead time" + ("" if is_lead_known else " (assumed)")
    words = (f"{row['mean']:.1f} hoses in {lead} and one review; "
             f"{percent(level.level)} wanted: {level.reason}")
    planned = float(str(row["planned_12_months"]))
    return words + (f"; {planned:.1f} a year planned" if planned >= 0.05 else "")


def _number(value: object, otherwise: float) -> float:
    return otherwise if value is None or pd.isna(value) else float(str(value))  # type: ignore[call-overload]


def _or_none(value: object) -> object:
    return None if value is None or pd.isna(value) else value  # type: ignore[call-overload]
