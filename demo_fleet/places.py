"""The register: places, what they ask of a hose, and what makes some of them worse."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np

Scenario = dict[str, Any]
DAYS_PER_YEAR = 365.25


@dataclass(slots=True)
class Place:
    """One service point with the truth about it; dates as proleptic day numbers."""

    name: str
    kind: dict[str, Any]
    """Its application class, as in the scenario."""
    site: str
    line: str
    equipment: str
    position: str
    unit: int
    """Number of its machine within the site."""
    dn: int
    length: int
    records_from: int
    commissioned: int
    retired: int | None
    frailty: float
    vibration: float | None
    vibration_hz: float | None
    construction: str
    duty: dict[str, float]
    rates: dict[str, float] = field(default_factory=dict)
    """Planted factors on the hazard, by mechanism."""
    growth: float = 1.0
    growth_from: int = 0
    why: str = ""
    trial: dict[str, Any] | None = None
    arm: str = ""

    def factor(self, mechanism: str, day: int) -> float:
        """Return what multiplies the hazard of a mechanism here for a hose fitted on a day."""
        planted = self.rates.get(mechanism, 1.0)
        if planted != 1.0 and self.growth != 1.0:
            planted *= self.growth ** max(0.0, (day - self.growth_from) / DAYS_PER_YEAR)
        return self.frailty * planted


def class_rng(seed: int, *stream: int) -> np.random.Generator:
    """Return a random stream of its own, so that a change in one part leaves the others alone."""
    return np.random.default_rng([seed, *stream])


def _slots(kind: dict[str, Any], sites: dict[str, Any], scale: float) -> Iterator[dict[str, Any]]:
    """List the places of a class with names that are unique over all sites."""
    number = point = 0
    for site, wanted in kind["units"].items():
        n_units = max(1, round(wanted * scale))
        for unit in range(1, n_units + 1):
            number += 1
            first = (unit - 1) // kind["units_per_line"] * kind["units_per_line"]
            last = min(first + kind["units_per_line"], n_units)
            line = kind["line"].format(
                line=first // kind["units_per_line"] + 1,
                first=number - unit + first + 1, last=number - unit + last,
            )
            base = {"site": site, "line": line, "unit": unit, **sites[site]}
            for position in kind["positions"]:
                yield {**base, "equipment": f"{kind['code']}-{number}", "position": position,
                       "name": f"{kind['code']}-{number} {position}"}
            for _ in range(0 if kind["positions"] else kind["places_per_unit"]):
                point += 1
                yield {**base, "equipment": f"{kind['unit_word']}{number}", "position": "",
                       "name": f"{kind['code']} {point}"}


def _between(rng: np.random.Generator, limits: list[float], digits: int = 1) -> float:
    return round(float(rng.uniform(limits[0], limits[1])), digits)


def _picked(rng: np.random.Generator, shares: dict[str, float]) -> str:
    return str(rng.choice(list(shares), p=np.array(list(shares.values())) / sum(shares.values())))


def _place(slot: dict[str, Any], kind: dict[str, Any], fleet: dict[str, Any],
           rng: np.random.Generator) -> Place:
    """Draw one place."""
    recorded = slot["records_from"].toordinal()
    as_of = fleet["as_of"].toordinal()
    start = slot["plant_from"].toordinal() + int(rng.integers(0, 540))
    newcomer = int(rng.integers(recorded, as_of - 300))
    commissioned = newcomer if rng.random() < fleet["new_place_share"] else start
    leaver = int(rng.integers(max(commissioned, recorded) + 200, as_of - 20))
    retired = leaver if rng.random() < fleet["retired_place_share"] else None
    shake = kind.get("vibration")
    vibration = shake and float(shake["median"] * math.exp(shake["log_sd"] * rng.normal()))
    duty = {"pressure_bar": _between(rng, kind["pressure"]),
            "temperature_c": _between(rng, kind["temperature"], 0),
            "flow_velocity_m_s": _between(rng, kind["flow"]),
            "bend_radius_mm": 10 * _between(rng, [x / 10 for x in kind["bend_radius"]], 0)}
    return Place(
        name=slot["name"], kind=kind, site=slot["site"], line=slot["line"],
        equipment=slot["equipment"], position=slot["position"], unit=slot["unit"],
        dn=int(_picked(rng, kind["dn"])), length=int(rng.choice(kind["lengths"])),
        records_from=recorded, commissioned=commissioned, retired=retired,
        frailty=float(rng.gamma(fleet["frailty_nu"]) / fleet["frailty_nu"]),
        vibration=vibration, vibration_hz=shake and _between(rng, shake["hz"]),
        construction=_picked(rng, kind["mix"]), duty=duty,
    )


def _plant(place: Place, planted: dict[str, Any], scenario: Scenario) -> None:
    """Make a place what the scenario says it is."""
    mechanisms = place.kind["mechanisms"]
    chosen = mechanisms if planted["mechanism"] == "all" else [planted["mechanism"]]
    place.rates = {mechanism: float(planted["rate"]) for mechanism in chosen}
    place.growth = float(planted.get("growth", 1.0))
    place.growth_from = dt.date(planted.get("from_year", 2000), 1, 1).toordinal()
    place.vibration = planted.get("vibration", place.vibration)
    place.construction = planted.get("construction", place.construction)
    place.why, place.frailty, place.retired = planted["why"], 1.0, None
    place.commissioned = scenario["sites"][place.site]["plant_from"].toordinal() + 90


def _enrol(places: list[Place], trial: dict[str, Any]) -> None:
    """Give the places of a trial their arms, pairs on one machine."""
    skipped = trial.get("skip_units", 0)
    for place in places:
        is_in = (place.kind["name"] == trial["application_class"] and place.site == trial["site"]
                 and skipped < place.unit <= skipped + trial["pairs"]
                 and place.position in trial["positions"])
        if is_in:
            arms = list(trial["arms"])
            swap = place.unit % 2      # so that no arm always has the same position
            place.trial = trial
            place.rates = {"vib_fatigue": trial["rate"]}
            place.arm = arms[(trial["positions"].index(place.position) + swap) % 2]
            place.retired = None
            place.commissioned = min(place.commissioned, place.records_from - 400)


def make_places(scenario: Scenario, seed: int, scale: float) -> list[Place]:
    """Draw the register.

    Parameters
    ----------
    scenario : dict
        As read from ``scenario.toml``.
    seed : int
    scale : float
        Multiplies the number of machines.

    Returns
    -------
    list of Place
        In the order of the scenario.
    """
    places = []
    for number, kind in enumerate(scenario["classes"]):
        rng = class_rng(seed, 1, number)
        places += [_place(slot, kind, scenario["fleet"], rng)
                   for slot in _slots(kind, scenario["sites"], scale)]
    by_name = {place.name: place for place in places}
    for planted in scenario["planted_places"]:
        if planted["service_point"] in by_name:
            _plant(by_name[planted["service_point"]], planted, scenario)
    for trial in scenario["trials"]:
        _enrol(places, trial)
    return places
