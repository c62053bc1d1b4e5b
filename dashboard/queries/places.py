"""What the page of all places asks."""

from __future__ import annotations

from dashboard.queries.edition import Row, ask
from dashboard.queries.paged import PagedTable

PLACES = PagedTable(
    source="service_points as p left join ranking as r using (service_point)",
    columns={
        "rank": "r.rank",
        "service_point": "p.service_point",
        "application_class": "p.application_class",
        "site": "p.site",
        "area": "p.area",
        "line": "p.line",
        "hazards": "p.hazards",
        "construction": "p.construction",
        "hose_id": "p.hose_id",
        "installed_on": "p.installed_on",
        "age_days": "p.age_days",
        "retired_on": "p.retired_on",
        "n_lives": "p.n_lives",
        "n_failures": "p.n_failures",
        "n_suspensions": "p.n_suspensions",
        "failures_expected_so_far": "r.failures_expected_so_far",
        "relative_rate": "r.relative_rate",
        "relative_rate_lower": "r.relative_rate_lower",
        "relative_rate_upper": "r.relative_rate_upper",
        "n_peers": "r.n_peers",
        "is_failure_prone": "r.is_failure_prone",
        "expected_failures": "r.expected_failures",
        "expected_cost": "r.expected_cost",
        "expected_cost_lower": "r.expected_cost_lower",
        "expected_cost_upper": "r.expected_cost_upper",
        "cost_origin": "r.cost_origin",
        "failure_probability_90_days": "r.failure_probability_90_days",
        "failure_probability_90_days_lower": "r.failure_probability_90_days_lower",
        "failure_probability_90_days_upper": "r.failure_probability_90_days_upper",
        "reason": "r.reason",
        "next_step": "r.next_step",
        "next_step_reason": "r.next_step_reason",
    },
    key="p.service_point",
    is_joined=True,
    counted="service_points as p",
    order="r.rank asc nulls last",
    filters={
        "site": "p.site = ?",
        "line": "p.line = ?",
        "application_class": "p.application_class = ?",
        "construction": "p.construction = ?",
        "hazard": "list_contains(p.hazards, ?)",
        "flag": """case ?
            when 'faster' then coalesce(r.is_failure_prone, false)
            when 'due' then coalesce(r.failure_probability_90_days >= 0.3, false)
            when 'no failure' then p.n_lives > 0 and p.n_failures = 0
            when 'no hose' then p.hose_id is null
            else false end""",
        "text": """contains(lower(concat_ws(' ', p.service_point, p.application_class, p.site,
            p.area, p.line, p.equipment, p.medium, p.hose_id, p.part_number)), lower(?))""",
    },
)

SUMMARY = """
select
    count(*) as n_places,
    count(*) filter (where r.is_failure_prone) as n_faster,
    count(*) filter (where p.hose_id is null) as n_without_hose,
    count(*) filter (where r.expected_cost is null) as n_without_cost,
    sum(r.expected_cost order by p.service_point) as cost,
    sum(r.expected_cost order by p.service_point) filter (where r.is_failure_prone) as faster_cost,
    least(max(r.expected_cost_upper), 2 * max(r.expected_cost)) as cost_scale,
    max(r.failure_probability_90_days_upper) as chance_scale
from service_points as p
left join ranking as r using (service_point)
"""

CHOICES = """
with every_choice as (
    select distinct 'site' as filter, site as value from service_points
    union all select distinct 'line', line from service_points
    union all select distinct 'application_class', application_class from service_points
    union all select distinct 'construction', construction from service_points
    union all select distinct 'hazard', unnest(hazards) from service_points
)

select filter, value from every_choice where value is not null and value <> ''
order by filter, value
"""

CURVE = """
select n_places, share_of_cost from cost_curve
qualify n_places = 1 or n_places = max(n_places) over ()
    or n_places % ((max(n_places) over () + 299) // 300) = 0
order by n_places
"""
"""As many points as can be told apart in a figure of that width."""

HALF_OF_COST = """
select min(n_places) as n_places from cost_curve where share_of_cost >= 0.5
"""


def summary() -> Row:
    """Return how many places there are, how many fail faster than peers, and their cost."""
    return next(iter(ask(SUMMARY)), {})


def choices() -> dict[str, list[str]]:
    """Return the values each filter offers."""
    out: dict[str, list[str]] = {}
    for row in ask(CHOICES):
        out.setdefault(row["filter"], []).append(row["value"])
    return out


def cost_curve() -> list[Row]:
    """Return the share of next year's cost that the first n places make, at some hundred n."""
    return ask(CURVE)


def places_for_half() -> int | None:
    """Return how many places make half of next year's cost."""
    return next(iter(ask(HALF_OF_COST)), {"n_places": None})["n_places"]
