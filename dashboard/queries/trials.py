"""Questions about trials: where one would pay, how one is planned, how registered ones stand."""

from __future__ import annotations

from dashboard.queries.edition import Row, ask, ask_one
from dashboard.queries.paged import PagedTable

CANDIDATE = """select c.*, r.expected_failures_lower, r.expected_failures_upper,
        r.expected_cost_lower, r.expected_cost_upper, p.application_class, p.site, p.line,
        p.hazards, p.n_failures, p.n_suspensions
    from trial_candidates as c
    left join service_points as p using (service_point)
    left join ranking as r using (service_point)"""

LOG_COLUMNS = (
    "trial", "service_point", "arm", "construction", "started_on", "pair", "planned_end_on",
    "planned_failures", "early_failure_limit", "expected_life_ratio",
    "expected_life_ratio_log_sd", "coin_seed", "rule",
)  # fmt: skip
LOG_ROWS = PagedTable(
    source="trial_log_rows",
    columns={name: name for name in LOG_COLUMNS},
    key="candidate, pair, service_point",
    order="candidate",
    filters={"candidate": "candidate = ?"},
)
"""A plan as rows of the trials log, under the names that the log has."""


def candidates() -> list[Row]:
    """Return the places where a side-by-side trial was weighed, best first."""
    return ask(f"{CANDIDATE} order by c.rank, c.service_point")


def candidate(service_point: str) -> Row | None:
    """Return the candidate at a place, None where there is none."""
    return ask_one(f"{CANDIDATE} where c.service_point = ?", [service_point])


def sizes(service_point: str) -> list[Row]:
    """Return the chance of a right choice by pairs and months."""
    return ask(
        """select n_pairs, months, right_choice_probability, expected_failures, is_planned
        from trial_sizes where service_point = ? order by n_pairs, months""", [service_point])


def screens(service_point: str) -> list[Row]:
    """Return what both arms of a candidate are made like, and how they stand at the place."""
    return ask(
        """select arm, construction, screen, value, lower, upper, limit_value, unit, ratio, source,
            status
        from trial_screens where service_point = ? order by screen, arm""", [service_point])


def assignment(service_point: str) -> list[Row]:
    """Return the places of a plan with pair and arm."""
    return ask(
        """select t.pair, t.service_point, t.arm, t.construction, t.pair_shares,
            t.expected_failures_12_months, t.coin_seed, t.started_on, t.planned_end_on,
            p.construction as present_construction, p.n_failures, p.n_suspensions
        from trial_log_rows as t left join service_points as p using (service_point)
        where t.candidate = ? order by t.pair, t.arm, t.service_point""", [service_point])


def states() -> list[Row]:
    """Return how every registered trial stands, running ones first."""
    return ask("select * from trial_states order by not is_running, started_on desc, trial")


def state(trial: str) -> Row | None:
    """Return how one trial stands, None where no trial has the name."""
    return ask_one("select * from trial_states where trial = ?", [trial])


def looks(trial: str) -> list[Row]:
    """Return the looks of a trial in order."""
    return ask(
        """select look_on, first_failures, second_failures, statistic, boundary, life_ratio,
            life_ratio_lower, life_ratio_upper, second_longer_probability
        from trial_looks where trial = ? order by look_on""", [trial])


def stays(trial: str) -> list[Row]:
    """Return the hoses of a trial, by pair and arm in order of fitting."""
    return ask(
        """select pair, service_point, arm, assigned_construction, construction, is_as_assigned,
            hose_id, installed_on, ended_on, is_over, is_failure, life_id
        from trial_stays where trial = ?
        order by pair, arm, installed_on, life_id""", [trial])


def registered(trial: str | None = None) -> list[Row]:
    """Return the registered trials, or one of them, one row a place and arm, running first."""
    return ask(
        """select t.trial, t.service_point, t.arm, t.construction, t.state, t.started_on,
            t.ended_on, t.n_hoses, t.n_failures, t.days_in_service, p.hazards
        from trials as t left join service_points as p using (service_point)
        where coalesce(t.trial = $trial, $trial is null)
        order by t.state <> 'running', t.trial, t.arm, t.service_point, t.construction,
            t.started_on""", {"trial": trial})


def as_published(trial: str) -> list[Row]:
    """Return the rows of a trial whole, with the columns that its log has."""
    return ask(
        """select * from trials where trial = ?
        order by service_point, arm, construction, started_on""", [trial])


def verdicts() -> list[Row]:
    """Return what decided trials say of constructions, newest first."""
    return ask(
        """select trial, application_class, construction, is_adopted, decision, decided_on
        from trial_verdicts
        order by decided_on desc nulls last, trial, application_class, is_adopted desc,
            construction""")


def exists(name: str) -> bool:
    """Tell whether a name is that of a trial or of a place with a plan."""
    return ask_one(
        """select 1 as found where exists (select 1 from trial_states where trial = $name)
            or exists (select 1 from trial_candidates where service_point = $name)""",
        {"name": name}) is not None
