"""Orders, what-if, budget and stand-ins of the invented parts."""

from __future__ import annotations

import datetime as dt
import itertools
from typing import Any

Row = dict[str, Any]
AS_OF = dt.date(2026, 10, 31)


def add_to(parts: list[Row]) -> dict[str, list[Row]]:
    """Complete the rows of spares and return the tables that hang on them."""
    for i, row in enumerate(parts):
        held = None if row["on_hand"] is None else row["on_hand"] + row["on_order"]
        price = row["unit_price"]
        row |= {
            "n_failures": i % 6, "n_suspensions": 4 + i, "minimum_order": 1, "level_met": 0.96,
            "share_served": 0.97, "stock_level_if_lives_certain": row["stock_level"],
            "lead_time_days_upper": 1.6 * row["lead_time_days"], "is_lead_time_recorded": True,
            "shortage_probability": None if held is None else 0.04,
            "days_covered": 20 if row["order_now"] else None, "overstock": None if held is None
            else 4 * (not row["order_now"]),
            "budget_12_months_p50": price and price * 2.0,
            "budget_12_months_p90": price and price * 4.0,
        }
    return {"order_list": _orders(parts), "spares_what_if": _cases(parts),
            "spares_budget": _budget(parts), "spares_stand_ins": _stand_ins(parts)}


def _orders(parts: list[Row]) -> list[Row]:
    kept = ("part_number", "construction", "dn", "unit_price", "stock_level", "reorder_point",
            "on_hand", "on_order", "n_failures", "n_suspensions")
    return [
        {name: row[name] for name in kept} | {
            "quantity": row["order_now"], "currency": "GBP", "why": row["reason"],
            "order_cost": row["unit_price"] and row["order_now"] * row["unit_price"],
            "needed_by": AS_OF, "data_date": AS_OF, "edition": 3}
        for row in parts if row["order_now"]
    ]


def _cases(parts: list[Row]) -> list[Row]:
    rows = []
    cases = itertools.product(("as planned", "without the plan"), (0.5, 1.0, 2.0),
                              (None, 0.9, 0.99))
    for (policy, factor, level), part in itertools.product(list(cases), parts):
        stated = level is None
        stock = part["stock_level"] + (factor == 2.0) + 2 * (level == 0.99)
        short = None
        if part["on_hand"] is not None:
            short = max(0, stock - part["on_hand"] - part["on_order"])
        price = part["unit_price"]
        rows.append({
            "part_number": part["part_number"], "policy": policy, "lead_time_factor": factor,
            "is_stated_level": stated, "service_level": part["service_level"] if stated else level,
            "lead_time_days": factor * part["lead_time_days"], "mean": factor * part["mean"],
            "stock_level": stock, "level_met": 0.97, "order_now": short,
            "order_cost": None if price is None or short is None else price * short,
            "stock_value": price and price * stock})
    return rows


def _budget(parts: list[Row]) -> list[Row]:
    return [
        {"month": dt.date(2026 + (10 + k) // 12, (10 + k) % 12 + 1, 1), "n_months": k + 1,
         "mean": 900.0 * (k + 1), "lower": 500.0 * (k + 1), "p50": 890.0 * (k + 1),
         "p90": 1200.0 * (k + 1), "upper": 1400.0 * (k + 1), "n_parts": len(parts),
         "n_without_price": sum(row["unit_price"] is None for row in parts)}
        for k in range(12)
    ]


def _stand_ins(parts: list[Row]) -> list[Row]:
    first, second, third = (row["part_number"] for row in parts[:3])
    return [
        {"part_number": first, "stand_in": second, "stand_in_construction": "C-316-CP1",
         "basis": "the register says it replaces this part", "is_approved": True, "n_places": 3,
         "n_places_met": 3, "objection": None, "on_hand": 4, "spare": 2,
         "stock_level_with_stand_in": 1},
        {"part_number": first, "stand_in": third, "stand_in_construction": "C-316-OP2",
         "basis": "engineering must approve", "is_approved": False, "n_places": 3,
         "n_places_met": 2, "objection": "no pressure rating in the catalogue", "on_hand": None,
         "spare": None, "stock_level_with_stand_in": None},
    ]
