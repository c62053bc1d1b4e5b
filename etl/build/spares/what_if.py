"""What the stock of each part would be at other lead times, service levels and without a plan."""

from __future__ import annotations

import pandas as pd

from etl.build.spares.demand import PartDemand
from etl.decide.spares.stock import order_quantity, stock_advice

FACTORS = (0.5, 0.75, 1.0, 1.5, 2.0, 3.0)
"""Of every lead time and its scatter."""
LEVELS = (0.80, 0.90, 0.95, 0.98, 0.99)
POLICIES = {"as planned": True, "without the plan": False}
COLUMNS = ["part_number", "policy", "lead_time_factor", "is_stated_level", "service_level",
           "lead_time_days", "mean", "stock_level", "level_met", "order_now", "order_cost",
           "stock_value"]


def what_if_table(found: list[PartDemand]) -> pd.DataFrame:
    """Find stock and order of every part over a grid of assumptions.

    Parameters
    ----------
    found : list of PartDemand

    Returns
    -------
    DataFrame
        One row a part, policy, factor and level; the part's own level as `is_stated_level`.
        Orders are empty without a stock log, amounts without a price.
    """
    rows: list[tuple[object, ...]] = []
    for part in found:
        cap = part.cap()
        for factor in FACTORS:
            planned = part.protection(factor)
            for policy, is_planned in POLICIES.items():
                # Without a planned change both policies are one.
                same = is_planned or part.planned == 0.0
                law = planned if same else part.protection(factor, is_planned=False)
                for at, level in enumerate((part.service.level, *LEVELS)):
                    advice = stock_advice(law, level, least=part.service.least, most=cap)
                    rows.append((
                        part.entry["part_number"], policy, factor, at == 0, level,
                        factor * part.lead_days, law.mean, advice.stock_level, advice.level_met,
                        *_order(part, advice.stock_level)))
    frame = pd.DataFrame(rows, columns=COLUMNS)
    frame["order_now"] = frame["order_now"].astype("Int64")
    for column in ("order_cost", "stock_value"):
        frame[column] = frame[column].astype("Float64")
    return frame


def _order(part: PartDemand, stock: int) -> tuple[int | None, float | None, float | None]:
    """Return the order, what it costs, and what the stock is worth."""
    price = part.unit_price
    worth = None if price is None else price * stock
    if part.on_hand is None:
        return None, None, worth
    order = order_quantity(stock, part.on_hand + part.on_order, part.minimum_order)
    return order, None if price is None else price * order, worth
