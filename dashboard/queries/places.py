"""What the page of all places asks."""

from __future__ import annotations

from dashboard.queries.edition import Row, ask
from dashboard.queries.paged import PagedTable

COLUMNS = (
    "rank", "service_point", "application_class", "site", "area", "line", "hazards",
    "construction", "hose_id", "installed_on", "age_days", "retired_on", "n_lives", "n_failures",
    "n_suspensions", "failures_expected_so_far", "relative_rate", "relative_rate_lower",
    "relative_rate_upper", "n_peers", "is_failure_prone", "expected_failures", "expected_cost",
    "expected_cost_lower", "expected_cost_upper", "cost_origin", "failure_probability_90_days",
    "failure_probability_90_days_lower", "failure_probability_90_days_upper", "reason",
    "next_step", "next_step_reason",
)

PLACES = PagedTable(
    source="place_list",
    columns={name: name for name in COLUMNS},
    key="place_no",
    order="",
    sorts={"service_point": "name_no"},
    number="place_no",
    filters={
        "site": "site = ?",
        "line": "line = ?",
        "application_class": "application_class = ?",
        "construction": "construction = ?",
        "hazard": "list_contains(hazards, ?)",
        "flag": """case ?
            when 'faster' then coalesce(is_failure_prone, false)
            when 'due' then coalesce(failure_probability_90_days >= 0.3, false)
            when 'no failure' then n_lives > 0 and n_failures = 0
            when 'no hose' then hose_id is null
            else false end""",
        "text": "contains(searched, lower(?))",
    },
)

SUMMARY = """
select n_places, n_faster, n_without_hose, n_without_cost, cost, faster_cost, cost_scale,
    chance_scale from place_totals
"""

CHOICES = "select filter, value from place_choices order by filter, value"

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
