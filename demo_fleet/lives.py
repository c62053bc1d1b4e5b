"""Simulated stays: hoses go in, age, fail or are changed, one event after the other."""

from __future__ import annotations

import datetime as dt
import heapq
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from .catalogue import part_number
from .places import DAYS_PER_YEAR, Place, Scenario, class_rng

POOL_DAYS = 120
"""A relocated hose that found no place within so many days is not fitted again."""
WEAR = ("braid_wear", "bend_fatigue", "corr_external", "abrasion_external", "pit_internal",
        "thermal")
"""Mechanisms that show before they leak."""
BLOCK = 128
FAILED = ("failed", "found_failed", "removed_degraded")


@dataclass(slots=True)
class Stay:
    """One hose at one place, with the truth about it; dates as proleptic day numbers."""

    place: int
    hose_id: str
    construction: str
    part_number: str
    installed: int
    entry_age: int
    removed: int = 0
    reason: str = ""
    """Empty while in service."""
    mechanism: str = ""
    failed: int = 0
    """Day it truly failed; 0 if it did not."""
    last_good: int = 0
    is_batch: bool = False


class Uniforms:
    """Uniform numbers one at a time, drawn in blocks because single draws are slow.

    Every place has a stream of its own, so that a change at one leaves the others alone.
    """

    def __init__(self, rng: np.random.Generator) -> None:
        """Take the stream to draw from."""
        self._rng = rng
        self._block: Iterator[float] = iter(())

    def __call__(self) -> float:
        """Return the next number in [0, 1)."""
        for value in self._block:
            return value
        self._block = iter(self._rng.random(BLOCK).tolist())
        return next(self._block)

    def exponential(self) -> float:
        """Return a unit exponential number."""
        return -math.log1p(-self())


class World:
    """Parameters and state of the simulation."""

    def __init__(self, scenario: Scenario, places: list[Place], seed: int) -> None:
        """Prepare a simulation from commissioning to the data date."""
        self.scenario, self.places, self.fleet = scenario, places, scenario["fleet"]
        self.as_of: int = self.fleet["as_of"].toordinal()
        self.made_of = {item["name"]: item for item in scenario["constructions"]}
        self.draws = [Uniforms(class_rng(seed, 3, number)) for number in range(len(places))]
        self.pool: dict[tuple[str, int, int], list[tuple[int, Stay]]] = {}
        self.n_hoses = 0
        self.shutdowns = {site: shutdown_days(item, self.as_of)
                          for site, item in scenario["sites"].items()}

    def run(self) -> list[Stay]:
        """Return all stays in the order in which they ended, open ones last."""
        queue: list[tuple[int, int, Stay | None]] = [
            (place.commissioned, number, None) for number, place in enumerate(self.places)
        ]
        heapq.heapify(queue)
        done: list[Stay] = []
        while queue:
            day, number, stay = heapq.heappop(queue)
            if stay is not None:
                done.append(stay)
                self._keep_relocated(stay)
                if day > self.as_of or stay.reason == "retired":
                    continue
                day += self._gap(number)
                if day > self.as_of:
                    continue
            fresh = self._install(number, day)
            ends = fresh.removed if fresh.reason else self.as_of + 1
            heapq.heappush(queue, (ends, number, fresh))
        return done

    def _gap(self, number: int) -> int:
        draw = self.draws[number]
        return int(1 + draw() * 12) if draw() < self.fleet["gap_share"] else 0

    def _keep_relocated(self, stay: Stay) -> None:
        if stay.reason == "relocated":
            place = self.places[stay.place]
            key = (place.kind["name"], place.dn, place.length)
            self.pool.setdefault(key, []).append((stay.removed, stay))

    def _install(self, number: int, day: int) -> Stay:
        """Fit a hose, new or relocated, and settle how its stay will end."""
        place = self.places[number]
        construction = self._construction(number, day)
        used = self._relocated(place, construction, day)
        if used:
            age = used.entry_age + used.removed - used.installed
            stay = Stay(number, used.hose_id, construction, used.part_number, day, age,
                        is_batch=used.is_batch)
        else:
            self.n_hoses += 1
            tag = f"H{dt.date.fromordinal(day).year % 100:02d}-{self.n_hoses:05d}"
            stay = Stay(number, tag, construction,
                        part_number(construction, place.dn, place.length), day, 0)
            stay.is_batch = self._is_batch(number, construction, day)
        self._settle(stay, place)
        return stay

    def _construction(self, number: int, day: int) -> str:
        """Choose what is fitted: the trial's arm, the place's own, or what is at hand."""
        place, draw = self.places[number], self.draws[number]
        for upgrade in self.scenario["upgrades"]:
            if (day >= upgrade["on"].toordinal() and place.construction == upgrade["from"]
                    and self._is_upgraded(place, upgrade)):
                place.construction = upgrade["to"]
        trial = place.trial
        if trial and day >= trial["started_on"].toordinal():
            ended = trial.get("ended_on")
            if ended and day > ended.toordinal():
                return str(trial["adopted"])
            return str(trial["arms"][place.arm])
        substitutes = [name for name in place.kind["mix"] if name != place.construction]
        if draw() < self.fleet["substitution_share"] and not place.why:
            return substitutes[int(draw() * len(substitutes))]
        return place.construction

    @staticmethod
    def _is_upgraded(place: Place, upgrade: dict[str, Any]) -> bool:
        """Settle by the place's own number whether it takes part, the same at every call."""
        return (place.kind["name"] == upgrade["application_class"] and place.site == upgrade["site"]
                and not place.why and place.frailty * 1000 % 1 < upgrade["share"])

    def _relocated(self, place: Place, construction: str, day: int) -> Stay | None:
        """Take a relocated hose of the same kind off the shelf, if there is one."""
        shelf = self.pool.get((place.kind["name"], place.dn, place.length), [])
        while shelf and shelf[0][0] < day - POOL_DAYS:
            shelf.pop(0)
        for position, (since, stay) in enumerate(shelf):
            if stay.construction == construction and since < day:
                return shelf.pop(position)[1]
        return None

    def _is_batch(self, number: int, construction: str, day: int) -> bool:
        batch = self.scenario["batch"]
        first, last = batch["installed_from"].toordinal(), batch["installed_to"].toordinal()
        is_in = construction == batch["construction"] and first <= day <= last
        return is_in and self.draws[number]() < batch["weak_share"]

    def _settle(self, stay: Stay, place: Place) -> None:
        """Let failure, change and retirement compete for the end of a stay."""
        age, mechanism = self._failure_age(stay, place)
        whole = math.floor(age) if age < 1.0 else math.ceil(age)
        failure = stay.installed + max(whole - stay.entry_age, 0)
        other, reason = self._other_end(stay, place)
        if other <= failure:
            stay.removed, stay.reason = other, reason
        else:
            self._fail(stay, place, failure, mechanism)
        if stay.removed > self.as_of:
            stay.removed, stay.reason, stay.mechanism, stay.failed = 0, "", "", 0

    def _failure_age(self, stay: Stay, place: Place) -> tuple[float, str]:
        """Draw the age at failure given the age at entry, and its mechanism."""
        item = self.made_of[stay.construction]
        best, by = math.inf, ""
        hazards = {name: (m["shape"], m["life"] * item["scale"].get(name, 1.0))
                   for name, m in place.kind["mechanisms"].items()}
        if stay.is_batch:
            batch = self.scenario["batch"]
            hazards[batch["mechanism"]] = (batch["shape"], batch["life"])
        for name, (shape, life) in hazards.items():
            if name == "vib_fatigue" and place.vibration:
                severity = place.vibration / place.kind["vibration"]["median"]
                life *= severity ** -item["exponent"]
            factor = place.factor(name, stay.installed)
            passed = (stay.entry_age / life) ** shape
            age = life * (passed + self.draws[stay.place].exponential() / factor) ** (1.0 / shape)
            if age < best:
                best, by = age, name
        return min(best, 40000.0), by

    def _other_end(self, stay: Stay, place: Place) -> tuple[int, str]:
        """Return the first end of a stay that has nothing to do with its failing."""
        kind, start = place.kind, stay.installed
        ends = [(self._planned(stay, place), "planned"),
                (start + 1 + int(self._wait(stay, kind["opportunity_per_year"])), "opportunity"),
                (start + 30 + int(self._wait(stay, kind["relocated_per_year"])), "relocated")]
        if place.retired:
            ends.append((max(place.retired, start), "retired"))
        if place.trial:
            began = place.trial["started_on"].toordinal()
            ends += [(began, "upgraded")] if start < began else []
        for upgrade in self.scenario["upgrades"]:
            on = upgrade["on"].toordinal()
            if (start < on and stay.construction == upgrade["from"]
                    and self._is_upgraded(place, upgrade)):
                ends.append((on, "upgraded"))
        return min(ends)

    def _wait(self, stay: Stay, per_year: float) -> float:
        wait = self.draws[stay.place].exponential()
        return wait / per_year * DAYS_PER_YEAR if per_year else 1e6

    def _planned(self, stay: Stay, place: Place) -> int:
        """Return the shutdown at which the hose is changed for its age."""
        draw = self.draws[stay.place]
        ripe = stay.installed + place.kind["planned_age"] - stay.entry_age
        for day in self.shutdowns[place.site]:
            if day >= ripe and day > stay.installed and draw() < place.kind["planned_share"]:
                return day
        return self.as_of + 10_000

    def _fail(self, stay: Stay, place: Place, day: int, mechanism: str) -> None:
        """Let a hose fail at once, be found failed later, or be caught before it leaks."""
        stay.mechanism, stay.failed, stay.removed, stay.reason = mechanism, day, day, "failed"
        draw, gap = self.draws[stay.place], place.kind["inspection_days"]
        between, caught = draw() * gap, draw()
        if caught < place.kind["found_share"]:
            stay.reason = "found_failed"
            stay.removed = day + math.ceil(between)
            stay.last_good = max(stay.installed, math.floor(stay.removed - gap))
            if stay.last_good >= day:
                stay.last_good = max(stay.installed, day - 1)
        elif caught > 1.0 - self.fleet["degraded_share"] and mechanism in WEAR:
            stay.reason, stay.failed = "removed_degraded", 0
            early = 0.05 * draw() * (day - stay.installed)
            stay.removed = max(stay.installed + 1, day - int(early))


def shutdown_days(site: dict[str, Any], as_of: int) -> list[int]:
    """List a site's shutdowns as day numbers, from its first year on, five years beyond the end."""
    first = site["plant_from"]
    years = range(first.year, first.year + 20)
    days = [first.replace(year=year, month=int(text[:2]), day=int(text[3:])).toordinal()
            for year in years for text in site["shutdowns"]]
    return sorted(day for day in days if day < as_of + 5 * 365)
