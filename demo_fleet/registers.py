"""Rows of the logs that are not about single hoses: places, meters, stock and trials."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from typing import Any

import numpy as np

from .events import day
from .lives import Stay
from .places import DAYS_PER_YEAR, Place, Scenario, class_rng

Row = dict[str, Any]


def service_points(places: list[Place], seed: int) -> list[Row]:
    """Return the register of places; about a quarter have no vibration reading."""
    rng = class_rng(seed, 5)
    return [_service_point(place, rng) for place in places]


def _service_point(place: Place, rng: np.random.Generator) -> Row:
    kind = place.kind
    error, unread = float(np.exp(rng.normal(0.0, 0.15))), rng.random() < 0.25
    is_read = place.vibration is not None and (bool(place.why) or not unread)
    reading = place.vibration if place.why else (place.vibration or 0.0) * error
    return {
        "service_point": place.name, "application_class": kind["name"], "site": place.site,
        "area": kind["area"], "line": place.line, "equipment": place.equipment,
        "medium": kind["medium"], "hazards": ", ".join(kind["hazards"]) or None, "dn": place.dn,
        "pressure_bar": place.duty["pressure_bar"],
        "temperature_c": int(place.duty["temperature_c"]),
        "flow_velocity_m_s": place.duty["flow_velocity_m_s"], "movement": kind["movement"],
        "vibration_mm_s_rms": round(reading or 0.0, 1) if is_read else None,
        "vibration_hz": place.vibration_hz if is_read else None,
        "displacement_mm": kind["vibration"]["displacement"] if is_read else None,
        "live_length_mm": place.length, "bend_radius_mm": int(place.duty["bend_radius_mm"]),
        "plane": "out" if "torsion_fatigue" in place.rates else kind["plane"],
        "run_hours_per_year": kind["run_hours"], "downtime_cost_per_hour": kind["stop_cost"],
        "unplanned_downtime_h": kind["stop_h"], "planned_downtime_h": kind["stop_planned_h"],
        "labour_h": kind["labour_h"], "records_from": day(place.records_from),
        "retired_on": day(place.retired) if place.retired else None,
    }


def usage(scenario: Scenario, places: list[Place], seed: int) -> list[Row]:
    """Return monthly readings: run hours of machines, and how often hoses at some places bent.

    A few meters were exchanged and began again at nought; some readings were never taken. One
    site gave its counters up, so that hoses outlast their readings there.
    """
    rng = class_rng(seed, 6)
    as_of = scenario["fleet"]["as_of"]
    machines = {place.equipment: place for place in places if place.kind["has_meter"]}
    rows: list[Row] = []
    for equipment, place in machines.items():
        rows += _readings(equipment, place, as_of, rng)
    return rows + _counters(places, class_rng(seed, 9))


def _counters(places: list[Place], rng: np.random.Generator) -> list[Row]:
    """Return what the counters of cycles showed, each at one place, rising all the time."""
    rows: list[Row] = []
    for place in places:
        counted = place.kind.get("counters", {})
        if place.site not in counted:
            continue
        first, last = day(place.records_from), counted[place.site]
        per_month = place.kind["cycles_per_year"] / 12.0 * rng.uniform(0.7, 1.4)
        shown = 0
        for month in range(_months(first, last)):
            year, index = divmod(first.year * 12 + first.month - 1 + month, 12)
            rows.append({"equipment": None, "service_point": place.name,
                         "read_on": dt.date(year, index + 1, 1), "clock": "cycles",
                         "reading": shown})
            shown += int(rng.poisson(per_month))
    return rows


def _months(first: dt.date, last: dt.date) -> int:
    return (last.year - first.year) * 12 + last.month - first.month + 1


def _readings(equipment: str, place: Place, as_of: dt.date, rng: np.random.Generator) -> list[Row]:
    first = day(place.records_from)
    n_months = _months(first, as_of)
    per_day = place.kind["run_hours"] * rng.uniform(0.8, 1.1) / DAYS_PER_YEAR
    exchanged = int(rng.integers(6, n_months)) if rng.random() < 0.06 else -1
    meter = float(rng.uniform(2.0, 5.0)) * place.kind["run_hours"]
    pace = np.clip(rng.normal(1.0, 0.12, n_months), 0.4, 24.0 / max(per_day, 1.0))
    missed = rng.random(n_months) < 0.03
    rows, last = [], first
    for month in range(n_months):
        year, index = divmod(first.year * 12 + first.month - 1 + month, 12)
        on = dt.date(year, index + 1, 1)
        meter += per_day * float(pace[month]) * (on - last).days
        meter, last = (0.0 if month == exchanged else meter), on
        if not missed[month]:
            rows.append({"equipment": equipment, "service_point": None, "read_on": on,
                         "clock": "run_hours", "reading": round(meter, 1)})
    return rows


def stock(scenario: Scenario, parts: list[Row], stays: list[Stay], seed: int) -> list[Row]:
    """Return quarterly stock counts of two years: some parts short, some far too many."""
    rng = class_rng(seed, 7)
    as_of = scenario["fleet"]["as_of"]
    recent = Counter(stay.part_number for stay in stays
                     if stay.installed > as_of.toordinal() - 730)
    counted = [as_of] + [dt.date(year, month, 1) - dt.timedelta(days=1)
                         for year in (2025, 2026) for month in (1, 4, 7, 10)]
    rows = []
    for part in parts:
        need = recent[part["part_number"]] / 730.0 * (part["lead_time_days"] + 30)
        habit = rng.uniform(0.3, 2.6)     # how generously the store keeps this part
        for on in sorted(counted):
            on_hand = int(rng.poisson(need * habit))
            ordered = int(rng.poisson(need)) if on_hand < need else 0
            due = on + dt.timedelta(days=int(rng.integers(5, part["lead_time_days"] + 5)))
            rows.append({"part_number": part["part_number"], "as_of": on, "on_hand": on_hand,
                         "on_order": ordered, "due_on": due if ordered else None})
    return rows


def trials(places: list[Place]) -> list[Row]:
    """Return the register of trials, one row a place; a running one with its rule."""
    return [_trial_row(place, place.trial) for place in places if place.trial]


def _trial_row(place: Place, trial: dict[str, Any]) -> Row:
    ratio = trial.get("expected_life_ratio")
    is_second = place.arm == max(trial["arms"])
    return {
        "trial": trial["trial"], "service_point": place.name, "arm": place.arm,
        "construction": trial["arms"][place.arm], "started_on": trial["started_on"],
        "ended_on": trial.get("ended_on"), "decision": trial.get("decision"),
        "decision_reason": trial.get("decision_reason"),
        "pair": place.equipment, "planned_end_on": trial.get("planned_end_on"),
        "planned_failures": trial.get("planned_failures"),
        "early_failure_limit": trial.get("early_failure_limit"),
        "expected_life_ratio": ratio and (ratio if is_second else round(1.0 / ratio, 4)),
        "expected_life_ratio_log_sd": trial.get("expected_life_ratio_log_sd"),
        "coin_seed": trial.get("coin_seed"), "rule": None,
    }
