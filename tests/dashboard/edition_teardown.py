"""Teardowns, countermeasures and screens of the invented fleet for page tests."""

from __future__ import annotations

import datetime as dt

from tests.dashboard.edition_fleet import Row

LEADERS = (("vib_fatigue", 0.72), ("bend_fatigue", 0.11), ("braid_wear", 0.05))


def teardowns(lives: list[Row], places: list[Row]) -> dict[str, list[Row]]:
    """Return evidence of every fifth failure, what to try, and screens of the first places."""
    failed = [life for life in lives if life["kind"] != "suspended" and life["removed_on"]][::5]
    evidence = [row for number, life in enumerate(failed) for row in _evidence(life, number)]
    if evidence:
        evidence += _evidence({
            "life_id": None, "hose_id": None, "removed_on": dt.date(2026, 10, 2),
            "service_point": places[0]["service_point"], "mechanism": None}, 1)
    remedies = [{
        "mechanism": mechanism, "countermeasure": "Hold the pipe", "why": "it shakes",
        "trial_value": "good", "side_effects": "loads on the anchor",
        "source": "common practice, no source", "status": "no source",
    } for mechanism, _ in LEADERS[:2]]
    screens = [row for place in places[:4] for row in _screens(place["service_point"])]
    duty = [{
        "service_point": place["service_point"], "construction": place["construction"],
        "dn": 50.0, "pressure_bar": 20.0, "temperature_c": 175.0, "core_alloy": "316L",
        "rated_pressure_bar": 40.0, "live_length_mm": 450.0, "bend_radius_mm": 500.0,
        "vibration_mm_s_rms": 9.0, "vibration_hz": 25.0, "bending_stiffness_n_m2": 30.375,
        "mass_kg_per_m": 3.0} for place in places[:4] if place["construction"]]
    vocabulary = [{
        "finding": "crk_45", "words": "slanting crack", "kind": "crack", "looked_at": looked_at,
        "speaks_for": ["torsion_fatigue"], "speaks_against": None, "source": "our judgement",
        "status": "no source", "strength_status": "our judgement",
    } for looked_at in ("braid off", "records")]
    findings = [{name: row[name] for name in ("life_id", "hose_id", "service_point", "removed_on")}
                | {"finding": "crk_45", "state": "absent" if row["n_unread"] else "present"}
                for row in evidence if row["rank"] == 1]
    return {"teardown_evidence": evidence, "teardown_findings": findings,
            "countermeasures": remedies,
            "place_screens": screens, "place_duty": duty, "finding_vocabulary": vocabulary}


def _evidence(life: Row, number: int) -> list[Row]:
    nothing = number == 2
    return [{
        "life_id": life["life_id"], "hose_id": life["hose_id"],
        "service_point": life["service_point"], "removed_on": life["removed_on"],
        "examined_on": life["removed_on"] + dt.timedelta(days=9),
        "rank": rank, "mechanism": mechanism, "probability": 0.04 if nothing else chance,
        "level": ("nothing found" if nothing else "suspected") if rank == 1 else None,
        "speaks_for": None if nothing else ["crests polished (strongly)"], "speaks_against": None,
        "open_points": ["only 34% of what bears on it was checked"] if rank == 1 else None,
        "next_check": "kink, crease (hose outside)" if rank == 1 and number else None,
        "coverage": 0.34, "n_checked": 5, "n_present": 0 if nothing else 3,
        "n_unread": number % 2,
        "logged_mechanism": life["mechanism"] if number % 3 else None,
        "is_counted": rank == 1 and number == 3, "basis": "packaged weights",
    } for rank, (mechanism, chance) in enumerate(LEADERS, start=1)]


def _screens(place: str) -> list[Row]:
    same = {"service_point": place, "source": "Energy Institute (2008)", "status": "second-hand",
            "cannot_tell": "whether a hose will last"}
    line = {"screen": "vibration", "title": "Measured vibration against a line for pipe",
            "value": 9.0, "unit": "mm/s rms"}
    return [
        same | line | {"compared_with": "concern", "limit_value": 7.63, "ratio": 1.18,
                       "rank": 2, "n_ranked": 4},
        same | line | {"compared_with": "problem", "limit_value": 37.0, "ratio": 0.24,
                       "rank": None, "n_ranked": None},
        same | {"screen": "frequency", "title": "Natural frequency", "value": 40.3, "lower": 33.8,
                "upper": 63.8, "unit": "Hz", "compared_with": "vibration on record",
                "limit_value": 25.0, "ratio": 0.62, "rank": None, "n_ranked": None},
    ]
