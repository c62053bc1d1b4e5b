"""What the pages ask of teardowns, countermeasures and physical screens."""

from __future__ import annotations

import datetime as dt

from dashboard.queries.edition import Row, ask

COUNTS = """
select
    count(*) as n, count(*) filter (where level in ('supported', 'confirmed')) as n_supported,
    count(*) filter (where level = 'suspected') as n_suspected,
    count(logged_mechanism) as n_logged, count(*) filter (where is_counted) as n_counted,
    count(*) filter (where logged_mechanism = mechanism) as n_agree, min(basis) as basis
from teardown_evidence
where rank = 1
"""

LATEST = """
select
    hose_id, service_point, removed_on, examined_on, mechanism, probability, level, next_check,
    n_checked, logged_mechanism, is_counted
from teardown_evidence
where rank = 1
order by examined_on desc, service_point, removed_on, hose_id
limit $most
"""

OF_PLACE = """
select
    hose_id, service_point, removed_on, examined_on, mechanism, probability, level, next_check,
    n_checked, logged_mechanism, is_counted
from teardown_evidence
where rank = 1 and service_point = $place
order by examined_on desc, removed_on, hose_id
limit $most
"""

ONE = """
select *
from teardown_evidence
where hose_id is not distinct from $hose
    and ($place is null or service_point = $place) and ($removed is null or removed_on = $removed)
qualify dense_rank() over (
    order by removed_on desc nulls first, service_point nulls first, life_id
) = 1
order by rank
limit 3
"""

REMEDIES = """
select countermeasure, why, trial_value, side_effects, source, status
from countermeasures
where mechanism = $mechanism
order by countermeasure
"""

VOCABULARY = """
select finding, words, looked_at, speaks_for, speaks_against
from finding_vocabulary
order by
    list_position(['in place', 'records', 'hose outside', 'braid off', 'core open', 'laboratory'],
        looked_at),
    kind, finding
"""

SCREENS = """
select
    screen, title, compared_with, value, lower, upper, limit_value, unit, ratio, rank,
    n_ranked, source, status, cannot_tell
from place_screens
where service_point = $place
order by screen, limit_value, compared_with
"""


def counts() -> Row:
    """Return how many teardowns reach which level, and how often people concluded the same."""
    return ask(COUNTS)[0]


def latest(most: int) -> list[Row]:
    """Return the leading mechanism of the latest teardowns, newest first."""
    return ask(LATEST, {"most": most})


def of_place(place: str, most: int) -> list[Row]:
    """Return the leading mechanism of the teardowns of a place, newest first."""
    return ask(OF_PLACE, {"place": place, "most": most})


def one(hose: str | None, place: str | None, removed: dt.date | None) -> list[Row]:
    """Return the leading mechanisms of one teardown, the likeliest first; none if unknown.

    Without place or day it is the latest teardown of the hose: an address typed by hand knows
    neither.
    """
    return ask(ONE, {"hose": hose, "place": place, "removed": removed})


def countermeasures(mechanism: str) -> list[Row]:
    """Return what may be tried against a mechanism."""
    return ask(REMEDIES, {"mechanism": mechanism})


def vocabulary() -> list[Row]:
    """Return every finding that a log may name, in the order in which a hose is taken apart."""
    return ask(VOCABULARY)


def screens(place: str) -> list[Row]:
    """Return the physical screens of a place."""
    return ask(SCREENS, {"place": place})
