"""Questions about the stock at other lead times, service levels and without a plan."""

from __future__ import annotations

from dashboard.queries.edition import Row, ask, ask_one

STATED = "stated"
"""Choice of the service level that each part has by itself."""
CHOSEN = """
    policy = $policy and lead_time_factor = $factor
    and case when $level = 'stated' then is_stated_level
        else not is_stated_level and service_level = try_cast($level as double) end
"""
AS_IT_IS = "policy = 'as planned' and lead_time_factor = 1 and is_stated_level"


def choices() -> dict[str, list[str]]:
    """Return the policies, factors of the lead time and service levels that are published."""
    rows = ask(
        """select distinct policy, lead_time_factor as factor,
            case when is_stated_level then null else service_level end as level
        from spares_what_if order by 1, 2, 3"""
    )
    levels = sorted({row["level"] for row in rows if row["level"] is not None})
    return {
        "policy": list(dict.fromkeys(row["policy"] for row in rows)),
        "factor": [f"{value:g}" for value in sorted({row["factor"] for row in rows})],
        "level": [STATED, *(f"{value:g}" for value in levels)],
    }


def totals(policy: str, factor: str, level: str) -> Row:
    """Return stock and orders of all parts under some assumptions, and as they are now."""
    row = ask_one(
        f"""with wanted as (select * from spares_what_if where {CHOSEN}),
        now as (select * from spares_what_if where {AS_IT_IS})
        select count(*) as n_parts, sum(w.stock_level)::integer as stock,
            sum(n.stock_level)::integer as stock_now,
            sum(w.stock_value::decimal(18, 2))::double as stock_value,
            sum(n.stock_value::decimal(18, 2))::double as stock_value_now,
            sum(w.order_now)::integer as orders, sum(n.order_now)::integer as orders_now,
            sum(w.order_cost::decimal(18, 2))::double as order_cost,
            sum(n.order_cost::decimal(18, 2))::double as order_cost_now,
            count(*) filter (where w.stock_level <> n.stock_level) as n_changed
        from wanted as w join now as n using (part_number)""",
        _bound(policy, factor, level),
    )
    return row or {"n_parts": 0}


def changed(policy: str, factor: str, level: str, most: int = 10) -> list[Row]:
    """Return the parts whose stock changes most, by its worth, then by number."""
    return ask(
        f"""with wanted as (select * from spares_what_if where {CHOSEN}),
        now as (select * from spares_what_if where {AS_IT_IS})
        select w.part_number, w.stock_level, n.stock_level as stock_now, w.order_now,
            n.order_now as order_as_it_is, w.lead_time_days, w.mean, w.level_met, w.service_level,
            w.stock_value - n.stock_value as more_value, s.construction, s.dn, s.n_places,
            s.on_hand, s.on_order
        from wanted as w join now as n using (part_number) join spares as s using (part_number)
        where w.stock_level <> n.stock_level
        order by abs(w.stock_value - n.stock_value) desc nulls last,
            abs(w.stock_level - n.stock_level) desc, w.part_number
        limit {int(most)}""",
        _bound(policy, factor, level),
    )


def of_part(part_number: str) -> list[Row]:
    """Return the stock of one part over lead times and service levels, as planned."""
    return ask(
        """select lead_time_factor as factor, lead_time_days, is_stated_level, service_level,
            stock_level, level_met
        from spares_what_if where part_number = ? and policy = 'as planned'
        order by factor, is_stated_level desc, service_level""",
        [part_number],
    )


def _bound(policy: str, factor: str, level: str) -> dict[str, str | float]:
    return {"policy": policy, "factor": float(factor), "level": level}
