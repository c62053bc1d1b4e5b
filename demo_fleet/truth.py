"""What is true about the invented fleet, for tests of recovery."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from typing import Any

from .lives import FAILED, Stay
from .places import Place, Scenario

Truth = dict[str, Any]


def strata(scenario: Scenario) -> list[dict[str, Any]]:
    """Return the true Weibull parameters of every class, construction and mechanism.

    They hold for a place of average frailty that shakes like the middle of its class.
    """
    scales = {item["name"]: item["scale"] for item in scenario["constructions"]}
    return [{
        "application_class": kind["name"], "construction": name, "mechanism": mechanism,
        "shape": value["shape"],
        "characteristic_life_days": round(value["life"] * scales[name].get(mechanism, 1.0), 6),
    } for kind in scenario["classes"] for name in scales
        for mechanism, value in kind["mechanisms"].items()]


def hoses(places: list[Place], stays: list[Stay]) -> dict[str, list[Any]]:
    """Return every simulated stay, one list a column, recorded or not."""
    def date(number: int) -> dt.date | None:
        return dt.date.fromordinal(number) if number else None
    return {
        "hose_id": [stay.hose_id for stay in stays],
        "service_point": [places[stay.place].name for stay in stays],
        "application_class": [places[stay.place].kind["name"] for stay in stays],
        "construction": [stay.construction for stay in stays],
        "installed_on": [date(stay.installed) for stay in stays],
        "removed_on": [date(stay.removed) for stay in stays],
        "reason": [stay.reason or "in service" for stay in stays],
        "mechanism": [stay.mechanism for stay in stays],
        "failed_on": [date(stay.failed) for stay in stays],
        "entry_age_days": [stay.entry_age for stay in stays],
        "frailty": [places[stay.place].frailty for stay in stays],
        "is_planted": [bool(places[stay.place].rates) for stay in stays],
        "is_batch": [stay.is_batch for stay in stays],
        "is_recorded": [not stay.reason or stay.removed >= places[stay.place].records_from
                        for stay in stays],
    }


def make_truth(scenario: Scenario, places: list[Place], stays: list[Stay],
               planted: Counter[tuple[str, str]], seed: int, scale: float) -> Truth:
    """Gather parameters, planted places, batch, trials and counts of planted rows."""
    recorded = [stay for stay in stays
                if not stay.reason or stay.removed >= places[stay.place].records_from]
    batch = scenario["batch"]
    return {
        "seed": seed, "scale": scale, "as_of": scenario["fleet"]["as_of"],
        "currency": scenario["fleet"]["currency"],
        "frailty_nu": scenario["fleet"]["frailty_nu"],
        "n_places": len(places),
        "n_hoses": len({stay.hose_id for stay in recorded}),
        "n_stays": len(recorded),
        "n_failures": sum(stay.reason in FAILED for stay in recorded),
        "n_in_service": sum(not stay.reason for stay in recorded),
        "records_from": {name: site["records_from"] for name, site in scenario["sites"].items()},
        "exponents": {item["name"]: item["exponent"] for item in scenario["constructions"]},
        "reference_vibration_mm_s_rms": {kind["name"]: kind["vibration"]["median"]
                                         for kind in scenario["classes"] if "vibration" in kind},
        "batch": {**batch, "n_weak": len({s.hose_id for s in stays if s.is_batch}),
                  "n_failures": sum(s.mechanism == batch["mechanism"] for s in stays),
                  "hose_ids": sorted({stay.hose_id for stay in stays if stay.is_batch})},
        "planted_places": [item for item in scenario["planted_places"]
                           if any(place.name == item["service_point"] for place in places)],
        "trials": [_trial(trial, places, stays) for trial in scenario["trials"]],
        "planted_rows": [{"file": file, "kind": kind, "n_rows": n_rows}
                         for (file, kind), n_rows in sorted(planted.items())],
        "strata": strata(scenario),
        "relative_rates": {place.name: round(place.frailty, 6) for place in places},
    }


def _trial(trial: dict[str, Any], places: list[Place], stays: list[Stay]) -> dict[str, Any]:
    """Count the hoses and failures of a trial's arms, as they truly were."""
    began = trial["started_on"].toordinal()
    ended = trial["ended_on"].toordinal() if "ended_on" in trial else 10**7
    arms = {}
    for arm, construction in trial["arms"].items():
        mine = [stay for stay in stays if places[stay.place].trial is trial
                and places[stay.place].arm == arm and began <= stay.installed <= ended]
        failed = [stay for stay in mine if stay.reason in FAILED and stay.removed <= ended]
        arms[arm] = {"construction": construction, "n_hoses": len(mine), "n_failures": len(failed)}
    state = {"decision": trial["decision"]} if "decision" in trial else {}
    return {"trial": trial["trial"], "started_on": trial["started_on"], "rate": trial["rate"],
            **state, "arms": arms}


def to_toml(truth: Truth) -> str:
    """Return the truth as TOML text, without the single hoses."""
    lines: list[str] = []
    _emit({key: value for key, value in truth.items() if key != "hoses"}, "", lines)
    return "\n".join(lines) + "\n"


def _emit(table: dict[str, Any], prefix: str, lines: list[str]) -> None:
    for key, value in table.items():
        if not _is_table(value):
            lines.append(f"{_key(key)} = {_value(value)}")
    for key, value in table.items():
        if _is_table(value):
            name = f"{prefix}{_key(key)}"
            for item in value if isinstance(value, list) else [value]:
                lines.extend(["", f"[[{name}]]" if isinstance(value, list) else f"[{name}]"])
                _emit(item, f"{name}.", lines)


def _is_table(value: Any) -> bool:
    return isinstance(value, dict) or (
        isinstance(value, list) and bool(value) and isinstance(value[0], dict))


def _key(key: str) -> str:
    return '"' + key + '"' if not key.replace("_", "").isalnum() else key


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return "[" + ", ".join(_value(item) for item in value) + "]"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    return value.isoformat() if isinstance(value, dt.date) else repr(value)
