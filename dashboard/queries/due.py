"""Questions about planned work: what is due when, and at which age hoses are to be changed."""

from __future__ import annotations

from dashboard.queries.edition import Row, ask, ask_one

SOON = """
select
    d.due_on, d.service_point, d.part_number, d.reason, d.method, d.site, d.line, d.hazards,
    d.age_days, d.replacement_age_days, d.is_overdue, d.shutdown_first_on, d.shutdown_last_on,
    d.labour_h, d.cost_per_planned_change, d.saving_per_year, d.saving_per_year_lower,
    d.saving_per_year_upper, d.n_failures, d.n_suspensions
from due as d
cross join edition as e
left join place_list as p using (service_point)
where d.due_on <= e.as_of + interval 3 month
order by d.site nulls last, d.line nulls last, d.due_on, p.name_no, d.service_point
"""

YEAR = """
select
    (select count(*) from due) as n_due,
    (select sum(still_running_probability::decimal(18, 6))::double from due) as expected,
    (select sum(mean::decimal(18, 6))::double from planned_work where scope = 'fleet') as all_work,
    (select sum(cost_mean::decimal(18, 2))::double from planned_work where scope = 'fleet')
        as cost,
    (select count(*) from replacement_ages where replacement_age_days is not null) as n_set,
    (select count(*) from replacement_ages) as n_hoses,
    (select months_until_on_record > 0 from edition) as is_late
"""

PREVENTED = """
select * from plan_effect where scope = 'fleet' and n_months in (3, 6, 12) order by n_months
"""

LASTING = """
select count(saving_per_year) as n, sum(saving_per_year::decimal(18, 4))::double as saving,
    sum(saving_per_year_lower::decimal(18, 4))::double as lower,
    sum(saving_per_year_upper::decimal(18, 4))::double as upper
from due where method = 'preventive age'
"""

OF_PLACE = """
select a.*, k.n_failures, k.n_suspensions, p.age_days
from replacement_ages as a
join service_points as p using (service_point)
left join preventive_ages as k
    on k.application_class = p.application_class and k.construction = p.construction
where a.service_point = $place
"""

OF_KIND = """
select * from preventive_ages
where application_class = $application_class and construction = $construction
"""


def soon() -> list[Row]:
    """Return the changes that fall due within three months, line by line."""
    return ask(SOON)


def year() -> Row:
    """Return how many changes fall due within twelve months, and what they are to cost."""
    return ask_one(YEAR) or {
        "n_due": 0, "expected": None, "all_work": None, "cost": None, "n_set": 0, "n_hoses": 0,
        "is_late": False}


def prevented() -> list[Row]:
    """Return what the plan prevents in the fleet within 3, 6 and 12 months."""
    return ask(PREVENTED)


def lasting() -> Row:
    """Return what the changes planned for their cost save a year in the long run, added up.

    The bounds are sums of bounds: a 90 % range if all the estimates err the same way.
    """
    return ask_one(LASTING) or {"n": 0, "saving": None, "lower": None, "upper": None}


def of_place(place: str) -> Row | None:
    """Return the replacement age of the hose at a place; None where there is no hose."""
    return ask_one(OF_PLACE, {"place": place})


def of_kind(application_class: str, construction: str) -> Row | None:
    """Return the replacement age of a kind of hose; None where there is no such kind."""
    return ask_one(OF_KIND, {"application_class": application_class, "construction": construction})
