"""An invented fleet for page tests: places, their hoses, and the ranking made of them."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

import numpy as np

AS_OF = dt.date(2026, 10, 31)
FIRST = dt.date(2017, 4, 1)
CURRENCY = "GBP"
CLASSES = {
    # class: (characteristic life in days, shape, hazards, medium, bar, degC, cost of a failure)
    "homogeniser discharge": (700, 2.4, ["hot", "pressure"], "milk", 62.0, 74.0, 4200.0),
    "ammonia compressor": (1900, 1.6, ["toxic"], "ammonia", 18.0, -5.0, 9800.0),
    "steam to drying drum": (1100, 1.9, ["hot"], "steam", 9.0, 178.0, 3100.0),
    "cleaning return": (1500, 1.3, ["hot"], "caustic 2 %", 6.0, 82.0, 1900.0),
    "vacuum line": (2400, 0.8, [], "air", 0.1, 22.0, 900.0),
    "nitrogen transfer": (3000, 1.5, ["cryogenic", "asphyxiant"], "nitrogen", 14.0, -190.0, 5200.0),
}
CONSTRUCTIONS = ["C-304-OP1", "C-316-CP1", "C-321-OP2H", "C-316-OP2B"]
FACTORS = [0.8, 1.1, 1.6, 1.0]
MECHANISMS = ["vib_fatigue", "braid_wear", "pit_internal", "unknown"]
SITES = ["Corriemoor", "Alderbeck", "Estwater", "Haverlund"]
N_PLACES = 60
ENDS = ["discharge", "suction", "in", "out", "head"]
Row = dict[str, Any]


def places() -> list[Row]:
    """Return the register of sixty places; some never had a hose, one is retired."""
    names = list(CLASSES)
    rows = []
    for i in range(N_PLACES):
        name = names[i % len(names)]
        _, _, hazards, medium, bar, celsius, _ = CLASSES[name]
        site = SITES[(i // 3) % len(SITES)]
        initials = "".join(word[0] for word in name.split()).upper()
        rows.append({
            "service_point": f"{initials}-{i // 6 + 1} {ENDS[i % 5]}",
            "application_class": name, "site": site, "area": f"hall {i % 2 + 1}",
            "line": f"line {i // 12 + 1}", "equipment": f"unit {i // 6 + 1}", "medium": medium,
            "hazards": hazards, "dn": [25, 40, 50, 80][i % 4], "pressure_bar": bar,
            "temperature_c": celsius, "flow_velocity_m_s": None if i % 3 else 2.5,
            "movement": ["vibration", "reciprocating", None][i % 3],
            "vibration_mm_s_rms": None if i % 4 else 3.0 + i % 20,
            "vibration_hz": None if i % 4 else 24.0 + 2 * i,
            "live_length_mm": 600.0 + 50 * (i % 6), "bend_radius_mm": None if i % 2 else 210.0,
            "records_from": dt.date(2018, 1, 1),
            "retired_on": dt.date(2024, 5, 31) if i == 41 else None,
        })
    return rows


def stays(places: list[Row], rng: np.random.Generator) -> list[Row]:
    """Return every life at every place, ages in days; place 57 never had a hose."""
    rows: list[Row] = []
    for i, place in enumerate(places):
        if i == 57:
            continue
        scale, shape, *_, cost = CLASSES[place["application_class"]]
        frailty = [0.4, 1.0, 1.0, 1.7, 1.2, 1.0, 0.9][i % 7]
        start = FIRST + dt.timedelta(days=int(rng.integers(0, 500)))
        end = place["retired_on"] or AS_OF
        n_at_place = 0
        while start < end and n_at_place < 14:
            row = _stay(place, start, scale * frailty, shape, cost, rng, len(rows))
            rows.append(row)
            n_at_place += 1
            if row["is_open"]:
                break
            start = row["removed_on"]
    return rows


def _stay(place: Row, start: dt.date, scale: float, shape: float, cost: float,
          rng: np.random.Generator, number: int) -> Row:
    which = int(rng.integers(0, len(CONSTRUCTIONS)))
    life = max(3.0, scale * FACTORS[which] * float(rng.weibull(shape)))
    luck = float(rng.random())
    planned, unknown, found = luck < 0.15, 0.15 <= luck < 0.2, 0.2 <= luck < 0.28
    if planned or unknown:
        life *= 0.7
    end = place["retired_on"] or AS_OF
    is_open = start + dt.timedelta(days=life) >= end
    removed = None if is_open and end == AS_OF else min(start + dt.timedelta(days=int(life)), end)
    is_open = removed is None
    age = float(((removed or AS_OF) - start).days)
    kind, reason, mechanism = "failed", "failed", MECHANISMS[int(rng.integers(0, 4))]
    if is_open:
        kind, reason, mechanism = "suspended", "in service", None
    elif planned or unknown or removed == end:
        kind, reason, mechanism = "suspended", "unknown" if unknown else "planned", None
    elif found:
        kind, reason = "interval", "found_failed"
    low = max(0.0, age - 40) if kind == "interval" else age
    high = None if kind == "suspended" else age
    return {
        "life_id": number + 1, "hose_id": f"H{10000 + number}",
        "service_point": place["service_point"],
        "application_class": place["application_class"], "construction": CONSTRUCTIONS[which],
        "part_number": f"{CONSTRUCTIONS[which]}-{place['dn']}", "mechanism": mechanism,
        "kind": kind, "removal_reason": reason, "is_unknown_reason": reason == "unknown",
        "entry_age_days": max(0.0, float((place["records_from"] - start).days)),
        "age_low_days": low, "age_high_days": high, "installed_on": start,
        "removed_on": removed, "is_open": is_open, "is_fitted": age > 0,
        "exclusion": None if age > 0 else "installed on the data date",
        "installation_file": "installations.csv", "installation_row": number + 2,
        "removal_file": None if is_open else "replacements.csv",
        "removal_row": None if is_open else number + 2,
        "part_cost": None if is_open else round(cost * 0.2, 2),
        "labour_cost": None if is_open else round(cost * 0.1, 2),
        "other_cost": None if is_open or kind == "suspended" else round(cost * 0.7, 2),
        "downtime_h": None if is_open or kind == "suspended" else 6.0,
        "cost": None if is_open else round(cost, 2),
        "last_seen_good_on": removed - dt.timedelta(days=40) if kind == "interval" else None,
    }


def fill_places(places: list[Row], lives: list[Row]) -> None:
    """Write the counts and the present hose into the register."""
    for place in places:
        own = [life for life in lives if life["service_point"] == place["service_point"]]
        present = next((life for life in own if life["is_open"]), None)
        failed = sum(life["kind"] != "suspended" for life in own)
        place |= {"n_lives": len(own), "n_failures": failed, "n_suspensions": len(own) - failed}
        for column in ("hose_id", "construction", "part_number", "installed_on"):
            place[column] = present[column] if present else None
        place["age_days"] = present["age_low_days"] if present else None


def ranking(places: list[Row], lives: list[Row]) -> list[Row]:
    """Rank the places with plausible invented figures; a place without a hose has none."""
    rows = []
    for place in places:
        if place["retired_on"]:
            continue
        scale, shape, hazards, *_, cost = CLASSES[place["application_class"]]
        own = [life for life in lives if life["service_point"] == place["service_point"]]
        days = sum(life["age_low_days"] for life in own)
        expected = days / (scale * math.gamma(1 + 1 / shape) * 1.1)
        rate = (place["n_failures"] + 3) / (expected + 3)
        spread = 1.645 / math.sqrt(place["n_failures"] + 3)
        ahead = rate * 365 / scale
        soon = 1 - math.exp(-rate * 90 / scale)
        prone = rate * math.exp(-spread) > 1.0
        has_hose = place["hose_id"] is not None
        known = has_hose and cost != 900.0
        rows.append({
            "service_point": place["service_point"], "expected_failures": ahead,
            "expected_failures_lower": ahead * math.exp(-spread),
            "expected_failures_upper": ahead * math.exp(spread),
            "expected_cost": ahead * cost if known else None,
            "expected_cost_lower": ahead * cost * math.exp(-1.4 * spread) if known else None,
            "expected_cost_upper": ahead * cost * math.exp(1.4 * spread) if known else None,
            "probability_worst_ten": None, "observed_failures": place["n_failures"],
            "failures_expected_so_far": round(expected, 3), "relative_rate": rate,
            "relative_rate_lower": rate * math.exp(-spread),
            "relative_rate_upper": rate * math.exp(spread), "n_peers": 9,
            "is_failure_prone": prone,
            "reason": _why(place, expected, prone),
            "next_step": _step(place, prone), "next_step_reason": _step_reason(place, prone),
            "failure_probability_90_days": soon if has_hose else None,
            "failure_probability_90_days_lower": soon * 0.6 if has_hose else None,
            "failure_probability_90_days_upper": min(1.0, soon * 1.5) if has_hose else None,
            "cost_per_failure": cost if known else None,
            "cost_origin": "recorded in class" if known else "unknown",
            "cost_first_on": dt.date(2019, 2, 1) if known else None,
            "cost_last_on": dt.date(2026, 9, 30) if known else None,
            "excess_cost": ahead * cost * (1 - 1 / rate) if known else None,
        })
    rows.sort(key=lambda row: (-(row["expected_cost"] or -1.0), row["service_point"]))
    for rank, row in enumerate(rows, start=1):
        row["rank"] = rank
        row["is_tied_with_first"] = rank <= 3
        row["probability_worst_ten"] = round(1 / (1 + math.exp((rank - 10) / 3)), 3)
    return rows


def _why(place: Row, expected: float, prone: bool) -> str:
    if not place["n_lives"]:
        return "no hose yet"
    if prone:
        return f"{place['n_failures']} failed where {expected:.1f} were expected"
    if not place["n_failures"]:
        return "no failure yet; the figure is borrowed from like places"
    return f"{place['n_failures']} failed where {expected:.1f} were expected, as like places do"


def _step(place: Row, prone: bool) -> str:
    if not place["n_lives"]:
        return "Fit and record the first hose"
    if prone:
        return "Start a trial"
    if place["hazards"]:
        return "Plan the replacement"
    return "Carry on" if place["n_failures"] else "Inspect; too little is known"


def _step_reason(place: Row, prone: bool) -> str:
    if prone:
        return "most failures here are by vibration and two constructions far apart fit here"
    if place["hazards"]:
        return "a release here can hurt: planned replacement whatever the statistics say"
    return "nothing speaks for a change"
