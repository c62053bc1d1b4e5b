"""What the page of this month asks."""

from __future__ import annotations

import datetime as dt

from dashboard.queries.edition import Row, ask, ask_one

OUT_THIS_MONTH = """
select
    date_trunc('month', e.as_of)::date as month,
    coalesce(h.n_removed, 0) as n_removed, coalesce(h.n_failed, 0) as n_failed, h.cost,
    t.mean, t.lower, t.upper
from edition as e
left join history as h on h.scope = 'fleet' and h.month = date_trunc('month', e.as_of)
left join track_forecasts as t on t.scope = 'fleet' and t.horizon_months = 1 and t.until = e.as_of
    and t.basis = 'as known then'
"""

YEAR_BEFORE = """
with months as (
    select unnest(generate_series(
        date_trunc('month', as_of) - interval 12 month,
        date_trunc('month', as_of) - interval 1 month, interval 1 month))::date as month
    from edition
),

known as (
    select m.month, coalesce(h.n_failed, 0) as n_failed
    from months as m
    left join history as h on h.scope = 'fleet' and h.month = m.month
    where m.month >= (select min(month) from history where scope = 'fleet')
)

select count(*) as n_months, avg(n_failed) as mean, min(n_failed) as least, max(n_failed) as most
from known
"""

DEAREST_LINE = """
select h.scope_name, h.cost, h.n_failed
from history as h, edition as e
where h.scope = 'line' and h.month = date_trunc('month', e.as_of) and h.cost > 0
order by h.cost desc, h.scope_name
limit 1
"""

TEN_PLACES = """
with first as (
    select * from ranking order by rank, service_point limit 10
)

select
    r.rank, r.service_point, r.expected_cost, r.expected_cost_lower, r.expected_cost_upper,
    r.expected_failures, r.expected_failures_lower, r.expected_failures_upper,
    r.is_failure_prone, r.reason, r.next_step, r.next_step_reason, r.is_tied_with_first,
    r.probability_worst_ten, r.excess_cost,
    p.application_class, p.site, p.line, p.hazards, p.n_failures, p.n_suspensions
from first as r
join service_points as p using (service_point)
order by r.rank, r.service_point
"""

SOONEST = """
select
    service_point, failure_probability_90_days as chance, is_failure_prone,
    failure_probability_90_days_lower as lower, failure_probability_90_days_upper as upper,
    age_days, hazards, application_class, n_failures, n_suspensions
from place_list
where failure_probability_90_days is not null and hose_id is not null
order by failure_probability_90_days desc, name_no
limit 8
"""

COST_PAST = """
with months as (
    select unnest(generate_series(
        date_trunc('month', as_of) - interval 23 month,
        date_trunc('month', as_of), interval 1 month))::date as month
    from edition
)

select m.month, coalesce(h.cost_of_failures, 0) as cost, coalesce(h.n_failed, 0) as n_failed
from months as m
left join history as h on h.scope = 'fleet' and h.month = m.month
where m.month >= (select min(month) from history where scope = 'fleet')
order by m.month
"""

COST_AHEAD = """
select f.month, f.cost_mean, f.cost_lower, f.cost_upper, f.mean, f.lower, f.upper
from forecast as f, edition as e
where f.scope = 'fleet' and f.month > e.as_of
order by f.month
limit 12
"""


def out_this_month() -> Row:
    """Return hoses out, failed and their cost in the data month, and its forecast if any."""
    return ask_one(OUT_THIS_MONTH) or {}


def year_before() -> Row:
    """Return mean, least and most failures a month over the twelve months before."""
    return ask_one(YEAR_BEFORE) or {"n_months": 0}


def dearest_line() -> Row | None:
    """Return the line whose removals cost most this month."""
    return ask_one(DEAREST_LINE)


def ten_places() -> list[Row]:
    """Return the first ten places of the ranking."""
    return ask(TEN_PLACES)


def soonest() -> list[Row]:
    """Return the eight hoses most likely to fail within 90 days."""
    return ask(SOONEST)


def cost_past() -> list[Row]:
    """Return the cost of each of the last 24 months; a month without a removal costs 0."""
    return ask(COST_PAST)


def cost_ahead() -> list[Row]:
    """Return the forecast cost of the twelve months ahead."""
    return ask(COST_AHEAD)


def is_whole_month(as_of: dt.date) -> bool:
    """Tell whether the data date is the last day of its month.

    Examples
    --------
    >>> is_whole_month(dt.date(2026, 10, 31)), is_whole_month(dt.date(2026, 10, 30))
    (True, False)
    """
    return (as_of + dt.timedelta(days=1)).day == 1
