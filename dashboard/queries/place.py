"""What the page of one place asks."""

from __future__ import annotations

from dashboard.queries.edition import Row, ask, ask_one
from dashboard.queries.paged import PagedTable

MOST_PEERS = 240
"""Dots that can be told apart in a strip."""

ONE = """
select p.*, r.* exclude (service_point)
from service_points as p
left join ranking as r using (service_point)
where p.service_point = $place
"""

STAYS = """
select
    life_id, hose_id, construction, part_number, mechanism, kind, removal_reason, is_open,
    is_unknown_reason, entry_age_days, age_low_days, age_high_days, installed_on, removed_on,
    last_seen_good_on, exclusion, cost,
    installation_file, installation_row, removal_file, removal_row
from lives
where service_point = $place
order by installed_on, life_id
"""

LIKE_CURVE = """
select c.age_days, c.survival, c.survival_lower, c.survival_upper, f.n_failures, f.n_suspensions
from service_points as p
join life_curves as c
    on c.application_class = p.application_class and c.construction = p.construction
    and c.mechanism = 'all'
join fits as f
    on f.application_class = p.application_class and f.construction = p.construction
    and f.mechanism = 'all'
where p.service_point = $place
order by c.age_days
"""

OWN_CURVE = """
select age_days, survival, survival_lower, survival_upper
from place_survival
where service_point = $place
order by age_days
"""

PEERS = """
with others as (
    select place_no, relative_rate from place_list
    where application_class = $application_class and service_point <> $place
        and relative_rate is not null
),

counted as (
    select count(*) as n_others, count(*) filter (where relative_rate < $rate) as n_slower
    from others
),

numbered as (
    select place_no, row_number() over (order by relative_rate, place_no) as number from others
),

shown as (
    select place_no, n_others, n_slower from numbered cross join counted
    where (number - 1) % ((n_others + $most - 1) // $most) = 0
)

select p.service_point, p.relative_rate, s.n_others, s.n_slower
from shown as s
join place_list as p using (place_no)
order by p.relative_rate, place_no
"""

NEIGHBOURS = """
with on_line as (
    select p.service_point,
        lag(p.service_point) over counted as previous_place,
        lead(p.service_point) over counted as next_place,
        row_number() over counted as number,
        count(*) over () as n_on_line
    from place_list as own
    join place_list as p
        on p.line is not distinct from own.line and p.site is not distinct from own.site
    where own.service_point = $place
    window counted as (order by p.name_no)
)

select previous_place, next_place, number, n_on_line from on_line where service_point = $place
"""

ON_LINE = """
select p.service_point, p.application_class, p.hazards, r.relative_rate,
    r.relative_rate_lower, r.relative_rate_upper, r.is_failure_prone, r.expected_cost, r.rank,
    p.n_failures, p.n_suspensions
from place_list as own
join place_list as p
    on p.line is not distinct from own.line and p.site is not distinct from own.site
left join ranking as r on r.service_point = p.service_point
where own.service_point = $place and p.service_point <> own.service_point
order by p.place_no
limit 12
"""

GROUP_TRENDS = """
select t.scope, t.scope_name, t.n_places, t.n_failures, t.place_years, t.shape, t.shape_lower,
    t.shape_upper, t.laplace_p_value, t.total_log_p_value
from service_points as own
join group_trends as t
    on t.site is not distinct from own.site
    and t.scope_name = case t.scope when 'line' then own.line else own.equipment end
where own.service_point = $place and t.n_failures > 0
order by t.scope
"""

GROUP_CURVES = """
select c.scope, c.age_days, c.n_places, c.mean, c.lower, c.upper
from service_points as own
join group_mean_failures as c
    on c.site is not distinct from own.site
    and c.scope_name = case c.scope when 'line' then own.line else own.equipment end
where own.service_point = $place
order by c.scope, c.age_days
"""

MECHANISMS = """
select mechanism, count(*) as n, count(*) filter (where not is_fitted) as n_uncounted
from lives
where service_point = $place and kind <> 'suspended'
group by mechanism
order by n desc, mechanism
"""

ROWS_AS_LOADED = PagedTable(
    source="log_rows",
    columns={
        "happened_on": "happened_on",
        "log": "log",
        "source_file": "source_file",
        "source_row": "source_row",
        "fate": "fate",
        "cells": "cells",
    },
    key="log, source_file, source_row",
    order="happened_on desc nulls last",
    filters={"place": "service_point = ?"},
)


def one(place: str) -> Row | None:
    """Return register entry, counts and ranking of a place, or None when there is none."""
    return ask_one(ONE, {"place": place})


def stays(place: str) -> list[Row]:
    """Return every hose that sat here, oldest first."""
    return ask(STAYS, {"place": place})


def like_curve(place: str) -> list[Row]:
    """Return survival of like hoses by age, with the counts behind it."""
    return ask(LIKE_CURVE, {"place": place})


def own_curve(place: str) -> list[Row]:
    """Return survival at this place by age; empty where no hose is in service."""
    return ask(OWN_CURVE, {"place": place})


def peers(place: Row) -> list[Row]:
    """Return other places of the class by rising rate, as many as a strip can show.

    Each row says how many there are in all and how many of them are slower than this place.
    """
    return ask(PEERS, {"place": place["service_point"], "most": MOST_PEERS,
                       "application_class": place["application_class"],
                       "rate": place["relative_rate"]})


def neighbours(place: str) -> Row:
    """Return the previous and the next place on the line, and the number on it."""
    return ask_one(NEIGHBOURS, {"place": place}) or {}


def on_line(place: str) -> list[Row]:
    """Return the other places of the same line, the dearest first."""
    return ask(ON_LINE, {"place": place})


def recurring(place: str) -> list[tuple[Row, list[Row]]]:
    """Return trend and curve of the place's machine, and of its line if that has more places."""
    curves, trends = (ask(question, {"place": place}) for question in (GROUP_CURVES, GROUP_TRENDS))
    most = max((trend["n_places"] for trend in trends if trend["scope"] == "equipment"), default=0)
    return [(trend, [row for row in curves if row["scope"] == trend["scope"]])
            for trend in trends if trend["scope"] == "equipment" or trend["n_places"] > most]


def mechanisms(place: str) -> list[Row]:
    """Return how many failures here ended by which mechanism."""
    return ask(MECHANISMS, {"place": place})


def rows_as_loaded(place: str, most: int = 200) -> tuple[list[Row], int]:
    """Return the newest rows as loaded, and how many there are in all."""
    filters = {"place": place}
    return ROWS_AS_LOADED.page(filters, [], 0, most), ROWS_AS_LOADED.count(filters)
