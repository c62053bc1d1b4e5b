"""Questions about spares: what to order, demand of each part, which places use it."""

from __future__ import annotations

from dashboard.queries.edition import Row, ask, ask_one
from dashboard.queries.paged import PagedTable, named

COLUMNS = (
    "part_number", "construction", "dn", "n_places", "mean_3_months", "lower_3_months",
    "upper_3_months", "stock_3_months", "mean_6_months", "lower_6_months", "upper_6_months",
    "stock_6_months", "mean_12_months", "lower_12_months", "upper_12_months", "stock_12_months",
    "mean", "stock_level", "reorder_point", "order_now", "on_hand", "on_order", "service_level",
    "service_level_reason", "lead_time_days", "planned_12_months", "unit_price", "price_on",
    "budget_12_months", "budget_12_months_lower", "budget_12_months_upper",
    "budget_12_months_p50", "budget_12_months_p90", "level_met", "share_served",
    "lead_time_days_upper", "shortage_probability", "overstock", "n_failures", "n_suspensions",
    "reason",
)  # fmt: skip
OVER = "overstock > 0"
PARTS = PagedTable(
    source="spares",
    columns={name: name for name in COLUMNS},
    key="part_number",
    order="order_now is null, order_now desc, mean_12_months desc nulls last",
    sorts={"part_number": named("part", "spares.part_number")},
    filters={
        "text": "contains(lower(concat_ws(' ', part_number, construction)), lower(?))",
        "construction": "construction = ?",
        "state": f"""? = case when order_now is null then 'unknown'
            when order_now > 0 then 'order' when {OVER} then 'over' else 'enough' end""",
    },
)
"""One row a part; the state says whether to order, whether there is enough, or no stock log."""


def summary() -> Row:
    """Return the counts and sums over all parts; amounts only over parts with a price."""
    row = ask_one(
        f"""select count(*) as n_parts, count(*) filter (where order_now > 0) as n_to_order,
            coalesce(sum(order_now) filter (where order_now > 0), 0)::integer as n_hoses,
            count(*) filter (where order_now is null) as n_without_stock,
            count(*) filter (where unit_price is null) as n_without_price,
            count(*) filter (where order_now > 0 and unit_price is null) as n_order_no_price,
            sum((order_now * unit_price)::decimal(18, 2)) filter (where order_now > 0)::double
                as order_cost,
            count(*) filter (where {OVER}) as n_over,
            count(*) filter (where shortage_probability > 1 - service_level) as n_late,
            sum((overstock * unit_price)::decimal(18, 2))::double as over_worth,
            (select p50 from spares_budget where n_months = 12) as budget,
            (select p90 from spares_budget where n_months = 12) as budget_p90,
            sum(mean_12_months::decimal(18, 6))::double as demand
        from spares"""
    )
    return row or {}


def orders(most: int = 12) -> list[Row]:
    """Return the parts to order now, the largest order first."""
    return ask(
        """select part_number, construction, dn, n_places, mean, reorder_point, stock_level,
            order_now, on_hand, on_order, lead_time_days, lead_time_days_upper, unit_price,
            n_failures, n_suspensions, (order_now * unit_price)::double as cost, reason,
            service_level, service_level_reason, level_met, minimum_order, days_covered,
            ((select as_of from edition) + days_covered)::date as needed_by,
            ((select as_of from edition) + lead_time_days::integer)::date as comes_on
        from spares where order_now > 0
        order by order_now * unit_price desc nulls last, order_now desc, part_number limit ?""",
        [most],
    )


def part(part_number: str) -> Row | None:
    """Return one part, None when there is no such part."""
    wanted = ", ".join(COLUMNS)
    return ask_one(f"select {wanted} from spares where part_number = ?", [part_number])


def places(part_number: str) -> list[Row]:
    """Return the places whose hose in service is of this part."""
    return ask(
        """select p.service_point, p.application_class, p.site, p.line, p.hazards, p.age_days,
            p.n_failures, p.n_suspensions, r.failure_probability_90_days,
            r.failure_probability_90_days_lower, r.failure_probability_90_days_upper
        from service_points as p left join ranking as r using (service_point)
        left join place_list as l using (service_point)
        where p.part_number = ?
        order by r.failure_probability_90_days desc nulls last, l.name_no""",
        [part_number],
    )


def budget() -> list[Row]:
    """Return what all parts used up to the end of each month cost."""
    return ask("select * from spares_budget order by n_months")


def surplus(most: int = 10) -> list[Row]:
    """Return the parts of which more is held than a year needs, dearest first."""
    return ask(
        f"""select part_number, construction, dn, n_places, overstock, on_hand, on_order,
            (overstock * unit_price)::double as worth
        from spares where {OVER}
        order by worth desc nulls last, overstock desc, part_number limit ?""",
        [most],
    )


def stand_ins(part_number: str) -> list[Row]:
    """Return the parts that could stand in for one, those that need no approval first."""
    return ask(
        """select * from spares_stand_ins where part_number = ?
        order by is_approved desc, n_places_met desc, spare desc nulls last, stand_in""",
        [part_number],
    )


def constructions() -> list[str]:
    """Return the constructions that parts have."""
    rows = ask(
        "select distinct construction from spares where construction is not null order by 1"
    )
    return [row["construction"] for row in rows]


def upper_demands() -> dict[str, list[float | None]]:
    """Return the upper ends of every part's demand, by span in months."""
    rows = ask("select upper_3_months, upper_6_months, upper_12_months from spares")
    return {span: [row[f"upper_{span}_months"] for row in rows] for span in ("3", "6", "12")}
