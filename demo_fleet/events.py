"""What people wrote down about the stays: installations, replacements, inspections, teardowns."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np

from .lives import FAILED, Stay
from .places import DAYS_PER_YEAR, Place, Scenario, class_rng

Row = dict[str, Any]
"""A log row by column; keys that begin with an underscore are the truth and are not written."""
EXAMINERS = ("workshop", "site engineer", "outside laboratory")


def day(number: int) -> dt.date:
    """Return the date of a day number."""
    return dt.date.fromordinal(number)


class Recorder:
    """Turns stays into rows of the event logs."""

    def __init__(self, scenario: Scenario, places: list[Place], parts: list[Row],
                 seed: int) -> None:
        """Take the world whose events are to be written down."""
        self.scenario, self.places, self.fleet = scenario, places, scenario["fleet"]
        self.as_of: int = self.fleet["as_of"].toordinal()
        self.price = {part["part_number"]: part["unit_price"] for part in parts}
        self.rng = class_rng(seed, 4)
        self.installations: list[Row] = []
        self.replacements: list[Row] = []
        self.inspections: list[Row] = []
        self.teardowns: list[Row] = []

    def record(self, stays: list[Stay]) -> None:
        """Write down all stays, as far as the sites' records reach back."""
        orders = work_orders(stays)
        for stay in stays:
            place = self.places[stay.place]
            is_recorded = not stay.reason or stay.removed >= place.records_from
            if not is_recorded and self.rng.random() >= self.fleet["early_record_share"]:
                continue
            self._record_installation(stay, place, is_recorded, orders)
            if stay.reason:
                self.replacements.append(self._removal(stay, place, orders))
                self._examine(stay, place)
            if is_recorded:
                self._inspect(stay, place)
        for rows, on in ((self.installations, "installed_on"), (self.replacements, "removed_on"),
                         (self.inspections, "inspected_on"), (self.teardowns, "examined_on")):
            _sort(rows, on)

    def _record_installation(self, stay: Stay, place: Place, is_recorded: bool,
                             orders: dict[tuple[int, int], str]) -> None:
        is_old = is_recorded and stay.installed < place.records_from
        if is_old and self.rng.random() >= self.fleet["old_hose_known_share"]:
            return
        by_construction = self.rng.random() < 0.08
        self.installations.append({
            "installed_on": day(stay.installed), "service_point": place.name,
            "hose_id": stay.hose_id,
            "part_number": None if by_construction else stay.part_number,
            "construction": stay.construction if by_construction else None,
            "age_at_installation": None,
            "work_order": orders[stay.place, stay.installed],
            "_site": place.site, "_kinds": (), "_place": place.name,
            "_hose": stay.hose_id, "_on": day(stay.installed),
        })

    def _removal(self, stay: Stay, place: Place, orders: dict[tuple[int, int], str]) -> Row:
        is_failure = stay.reason in FAILED
        row = {
            "removed_on": day(stay.removed), "service_point": place.name, "reason": stay.reason,
            "hose_id": stay.hose_id, "last_seen_good_on": None, "mechanism": None,
            **self._costs(stay, place), "planned": "no" if is_failure else "yes",
            "work_order": orders[stay.place, stay.removed],
            "_site": place.site, "_kinds": (), "_place": place.name,
            "_hose": stay.hose_id, "_on": day(stay.removed),
            "_installed": day(stay.installed), "_is_new": stay.entry_age == 0,
        }
        if stay.reason == "opportunity":
            row["planned"] = "no"
        if is_failure:
            known = self.rng.random() < self.scenario["sites"][place.site]["mechanism_known_share"]
            blank = self.rng.random() < 0.5
            row["mechanism"] = stay.mechanism if known else (None if blank else "unknown")
        if stay.reason == "found_failed" and self.rng.random() < 0.75:
            row["last_seen_good_on"] = day(stay.last_good)
        return row

    def _costs(self, stay: Stay, place: Place) -> Row:
        """Draw what a removal cost; stock issues and contractors' work are often not booked."""
        kind, rng = place.kind, self.rng
        spread = np.exp(rng.normal(0.0, [0.06, 0.25, 0.35, 0.5])).tolist()
        is_failure = stay.reason in FAILED
        past = (self.as_of - stay.removed) / DAYS_PER_YEAR
        price = self.price[stay.part_number] / (1.0 + self.fleet["price_rise_per_year"]) ** past
        stop = kind["stop_h"] if is_failure else kind["stop_planned_h"]
        if stay.reason in ("opportunity", "retired"):
            stop = 0.0
        has_part = stay.reason not in ("relocated", "retired") and rng.random() < 0.88
        booked = rng.random(3)
        return {
            "part_cost": round(price * spread[0], 2) if has_part else None,
            "labour_cost": (round(kind["labour_h"] * self.fleet["labour_rate"] * spread[1], 2)
                            if booked[0] < 0.9 else None),
            "downtime_h": round(stop * spread[2], 1) if booked[1] < 0.85 else None,
            "other_cost": (round(kind["clean_up"] * spread[3], 2)
                           if is_failure and booked[2] < 0.6 else None),
        }

    def _examine(self, stay: Stay, place: Place) -> None:
        """Take some failed hoses apart, more of them at the problem places."""
        share = 0.5 if place.why else 0.10
        begun = dt.date(2020, 1, 1).toordinal()
        wait = int(self.rng.integers(3, 40))
        drawn = self.rng.random() < share
        if stay.reason not in FAILED or stay.removed < begun or not drawn:
            return
        if stay.removed + wait > self.as_of:
            return
        usual = self.scenario["findings"][stay.mechanism]
        n_seen = int(self.rng.integers(2, len(usual) + 1))
        seen = sorted(str(item) for item in self.rng.choice(usual, n_seen, replace=False))
        examiner = EXAMINERS[int(self.rng.integers(0, len(EXAMINERS)))]
        self.teardowns += [{
            "examined_on": day(stay.removed + wait), "hose_id": stay.hose_id,
            "service_point": place.name, "removed_on": day(stay.removed), "finding": finding,
            "value": None, "examiner": examiner, "note": None,
        } for finding in seen]

    def _inspect(self, stay: Stay, place: Place) -> None:
        """Look at some hoses in service, and note the look that found a failure."""
        end = stay.failed or stay.removed or self.as_of + 1
        start = max(stay.installed + 10, place.records_from)
        looks = self.rng.random(2)
        if end - start > 60 and looks[0] < (0.9 if place.why else 0.25):
            on = int(self.rng.integers(start, end))
            is_worn = stay.reason == "removed_degraded" and stay.removed - on < 90
            self.inspections.append(self._look(place, on, "worn" if is_worn else "good"))
        if stay.reason == "found_failed" and looks[1] < 0.5:
            self.inspections.append(self._look(place, stay.removed, "failed"))

    def _look(self, place: Place, on: int, condition: str) -> Row:
        row = {"inspected_on": day(on), "service_point": place.name, "condition": condition,
               "vibration_mm_s_rms": None, "vibration_hz": None, "note": None}
        if place.vibration and condition != "failed":
            error = float(np.exp(self.rng.normal(0.0, 0.15)))
            row["vibration_mm_s_rms"] = round(place.vibration * error, 1)
            row["vibration_hz"] = place.vibration_hz
        return row


def _sort(rows: list[Row], on: str) -> None:
    rows.sort(key=lambda row: (row[on], str(row["service_point"])))


def work_orders(stays: list[Stay]) -> dict[tuple[int, int], str]:
    """Number the work orders by date; what happens at a place on one day shares one."""
    visits = {(stay.installed, stay.place) for stay in stays}
    visits |= {(stay.removed, stay.place) for stay in stays if stay.reason}
    return {(place, on): f"WO-{100001 + number}"
            for number, (on, place) in enumerate(sorted(visits))}
