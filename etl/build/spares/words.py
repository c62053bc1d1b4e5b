"""Why a stock level and an order are what they are, in plain words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from etl.build.spares.demand import PartDemand
from etl.build.words import day_words
from etl.decide.words import percent


def spares_reason(part: PartDemand, row: Mapping[str, Any]) -> str:
    """Say what sets the stock level, what is on its way and what an order cannot cure.

    Parameters
    ----------
    part : PartDemand
    row : mapping
        Its figures, as published.

    Returns
    -------
    str
    """
    lead = f"{part.lead_days:.0f} days lead time" + ("" if part.is_lead_known else " (assumed)")
    said = [*_late(part, row), f"{row['mean']:.1f} hoses expected over {lead} and one review",
            f"stocked for {percent(part.service.level)} without shortage: {part.service.reason}"]
    if part.planned >= 0.05:
        said.append(f"{part.planned:.1f} a year planned")
    return "; ".join([*said, *_bounds(part, row), *_coming(part, row)])


def _bounds(part: PartDemand, row: Mapping[str, Any]) -> list[str]:
    """Say what moved the level besides demand."""
    said = []
    level, cap = row["stock_level"], row["shelf_cap"]
    if part.service.least and level == part.service.least and (
            part.protection().level(part.service.level) < level):
        said.append(f"{level} kept whatever the demand, since nobody can wait there")
    elif cap is not None and row["level_met"] < part.service.level:
        said.append(f"no more than {level}, or spares outlive their shelf life: covers "
                    f"{percent(row['level_met'])}; order fewer, more often")
    more = level - row["stock_level_if_lives_certain"]
    if more > 0:
        said.append(f"what is not known of the lives adds {more}")
    return said


def _coming(part: PartDemand, row: Mapping[str, Any]) -> list[str]:
    """Say what is on order, and what the order is raised to."""
    said = []
    due = part.entry["next_due_on"]
    if part.on_order:
        when = f", the first due {day_words(due)}" if isinstance(due, dt.date) else ""
        said.append(f"{part.on_order} on order{when}")
    order, position = row.get("order_now"), (part.on_hand or 0) + part.on_order
    if order and order > row["stock_level"] - position:
        said.append(f"the least order is {part.minimum_order}")
    return said


def _late(part: PartDemand, row: Mapping[str, Any]) -> list[str]:
    """Say, before all else, that an order comes too late where it does, and what is left to do."""
    late = row.get("shortage_probability")
    if late is None or late <= 1.0 - part.service.level:
        return []
    return [f"{percent(late)} chance of running out before a new order arrives: expedite or borrow"]
