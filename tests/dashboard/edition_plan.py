"""Planned work of the invented fleet for page tests."""

from __future__ import annotations

import datetime as dt

from tests.dashboard.edition_fleet import AS_OF, Row

NO_AGE = "wear-out is not certain enough: the shape is not credibly above 1"
SHUTDOWN = dt.date(2026, 12, 14), dt.date(2026, 12, 18)


def plan(places: list[Row], fits: list[Row]) -> dict[str, list[Row]]:
    """Return ages by kind and by place, the due list and planned work by month."""
    kinds = [_kind(fit, number) for number, fit in enumerate(fits) if fit["mechanism"] == "all"]
    ages = [_age(place, number) for number, place in enumerate(
        place for place in places if place["hose_id"])]
    by_name = {place["service_point"]: place for place in places}
    due = []
    for age in ages:
        place = by_name[age["service_point"]]
        if age["planned_on"] and age["planned_on"] < dt.date(2027, 10, 31):
            own = ("part_number", "site", "line", "application_class", "construction", "hazards",
                   "hose_id", "installed_on", "age_days")
            same = ("reason", "method", "replacement_age_days", "is_overdue", "shutdown_first_on",
                    "shutdown_last_on", "labour_h", "cost_per_planned_change",
                    "planned_cost_origin", "cost_per_failure",
                    "saving_per_year", "saving_per_year_lower", "saving_per_year_upper",
                    "saving_probability", "still_running_probability", "service_point")
            due.append({"due_on": age["planned_on"], "due_month": age["planned_on"].replace(day=1),
                        "n_failures": 6, "n_suspensions": 4} | {key: place.get(key) for key in own}
                       | {key: age[key] for key in same})
    work = [{"month": dt.date(2026 + (at > 1), (at + 10) % 12 + 1, 1), "scope": "fleet",
             "scope_name": "all", "mean": 2.5, "lower": 1.0, "upper": 4.0, "cost_mean": 3000.0,
             "cost_lower": 1200.0, "cost_upper": 4800.0} for at in range(12)] if due else []
    effect = [
        {"scope": "fleet", "scope_name": "all", "n_months": n, "month": dt.date(2026, 10, 31),
         "n_planned": 2 * n, "failures_without_plan": 9.0 * n, "failures_with_plan": 8.5 * n,
         "prevented": 0.5 * n, "prevented_lower": 0.3 * n, "prevented_upper": 0.8 * n,
         "cost_without_plan": 9000.0 * n, "cost_prevented": 600.0 * n,
         "cost_prevented_lower": 350.0 * n, "cost_prevented_upper": 900.0 * n,
         "added_changes": 1.5 * n, "added_cost": 400.0 * n} for n in range(1, 13)] if due else []
    return {"preventive_ages": kinds, "replacement_ages": ages, "due": due, "planned_work": work,
            "plan_effect": effect,
            "unknown_reasons": [{
                "application_class": "all", "n_failed": 100, "n_unfailed": 60, "n_unknown": 12,
                "n_unknown_failed": 7.4, "failures_factor": 1.074}] if due else []}


def _figures(pays: bool, age: float) -> Row:
    return {
        "verdict": "pays" if pays else NO_AGE,
        "preventive_age_days": age if pays else None, "flat_from_days": 0.8 * age if pays else None,
        "flat_to_days": 1.3 * age if pays else None,
        "failing_before_probability": 0.41 if pays else None, "saving_per_year": 210.0,
        "saving_per_year_lower": -12.0, "saving_per_year_upper": 390.0,
        "saving_probability": 0.94 if pays else 0.6, "cost_per_year": 2190.0,
        "cost_per_year_on_failure": 2400.0, "required_interval_days": None,
        "cost_per_planned_change": 990.0, "cost_per_failure": 3000.0,
    }


def _kind(fit: Row, number: int) -> Row:
    keys = ("application_class", "construction", "n_failures", "n_suspensions")
    return {key: fit[key] for key in keys} | {
        "shape": 2.1, "shape_lower": 1.4, "shape_upper": 2.9} | _figures(number % 2 == 0, 412.0)


def _age(place: Row, number: int) -> Row:
    """Return a place's age: paying, required, overdue, in a shutdown, or none at all."""
    pays, is_required, is_late = number % 3 == 0, number % 7 == 1, number % 9 == 3
    row = {"service_point": place["service_point"], "method": None, "replacement_age_days": None,
           "reason": f"no preventive age pays: {NO_AGE}", "planned_on": None, "is_overdue": False,
           "shutdown_first_on": None, "shutdown_last_on": None, "still_running_probability": None,
           "planned_cost_origin": "recorded in class",
           "labour_h": None if number % 5 == 0 else 3.0} | _figures(pays, 412.0)
    if pays or is_required:
        in_window = number % 6 == 0
        row |= {
            "method": "required interval" if is_required else "preventive age",
            "replacement_age_days": 365.0 if is_required else 412.0, "is_overdue": is_late,
            "reason": "the site requires a change within 365 days (toxic)" if is_required else
            "changing at 412 days costs least; any age from 330 to 535 days costs about the same",
            "planned_on": SHUTDOWN[0] if in_window else AS_OF + dt.timedelta(
                1 if is_late else 9 * number + 2),
            "shutdown_first_on": SHUTDOWN[0] if in_window else None,
            "shutdown_last_on": SHUTDOWN[1] if in_window else None,
            "still_running_probability": 0.8,
            "required_interval_days": 365.0 if is_required else None,
        }
    return row
