"""An invented fleet under vibration for page tests: one class known, one place without evidence."""

from __future__ import annotations

import math
from typing import Any

from tests.dashboard.edition_fleet import Row

SCHEMA = """
create table vibration_summary (status varchar, words varchar, n_places integer,
    n_places_read integer, n_readings integer, n_repeats integer, n_lives integer,
    n_failures integer, n_unknown_failures integer, n_unknown_counted double,
    n_old_at_start integer, n_unexplained integer, exponent double, exponent_lower double,
    exponent_upper double,
    error_sd double, is_error_known boolean, place_sd double, resonance double,
    resonance_lower double, resonance_upper double, alarm boolean, alarm_words varchar,
    stiffness_within double, stiffness_within_lower double, stiffness_within_upper double,
    stiffness_between double, stiffness_between_lower double, stiffness_between_upper double,
    n_effective integer);
create table vibration_constructions (construction varchar, n_lives integer, n_failures integer,
    n_unknown_failures integer, n_places integer, lowest_mm_s double, highest_mm_s double,
    exponent double, exponent_lower double, exponent_upper double, shape double,
    shape_lower double, shape_upper double, misfit_p_value double, is_shown boolean,
    reason varchar);
create table vibration_lives (application_class varchar, construction varchar,
    velocity_mm_s double, b10_days double, b10_days_lower double, b10_days_upper double);
create table vibration_cells (application_class varchar, construction varchar,
    velocity_mm_s double, frequency_hz double, natural_frequency_hz double, b10_days double,
    b10_days_lower double, b10_days_upper double, support double, n_places integer,
    reason varchar);
create table vibration_places (service_point varchar, application_class varchar,
    construction varchar, velocity_mm_s double, velocity_mm_s_lower double,
    velocity_mm_s_upper double, n_readings integer, frequency_hz double,
    natural_frequency_hz double, n_lives integer, n_failures integer);
create table vibration_choices (service_point varchar, present_construction varchar,
    construction varchar, chance double, next_chance double, life_ratio double,
    life_ratio_lower double, life_ratio_upper double, n_common_places integer,
    n_failures integer, reason varchar);
create table vibration_errors (error_sd double, is_estimated boolean, exponent double,
    exponent_lower double, exponent_upper double);
"""
THIN = "too few hoses nearby"


def vibration(places: list[Row]) -> dict[str, list[Row]]:
    """Return the tables of the page for the places of the two classes with the most of them."""
    names = [place["application_class"] for place in places]
    wanted = sorted(set(names), key=lambda name: (-names.count(name), name))[:2]
    mine = [place for place in places if place["application_class"] in wanted]
    kinds = sorted({place["construction"] for place in mine if place["construction"]})
    rows = {"vibration_places": [_place(number, place) for number, place in enumerate(mine)],
            "vibration_constructions": [_construction(n, kind) for n, kind in enumerate(kinds)],
            "vibration_cells": [], "vibration_lives": [], "vibration_choices": []}
    for group in wanted:
        for number, kind in enumerate(kinds[:3]):
            rows["vibration_cells"] += _cells(group, kind, is_blank=number == 2)
            rows["vibration_lives"] += _lives(group, kind, number)
    for place in mine:
        rows["vibration_choices"] += _choices(place, kinds)
    return rows | {"vibration_summary": [_summary(len(mine))], "vibration_errors": [
        {"error_sd": sd, "is_estimated": False, "exponent": 1.3 + sd, "exponent_lower": 1.0,
         "exponent_upper": 2.4} for sd in (0.15, 0.3, 0.5)]}


def _summary(n_places: int) -> Row:
    row: dict[str, Any] = {
        "status": "estimated", "words": "", "n_places": n_places, "n_places_read": n_places - 3,
        "n_readings": n_places + 4, "n_repeats": 7, "n_lives": 140, "n_failures": 61,
        "n_unknown_failures": 11, "n_unknown_counted": 6.2, "n_old_at_start": 9, "n_unexplained": 0,
        "n_effective": 55,
        "error_sd": 0.3, "is_error_known": False, "place_sd": 0.4, "alarm": True,
        "alarm_words": "Stiff hoses stand at places that are worse than their velocity tells."}
    for name, value in (("exponent", 1.5), ("resonance", 1.1), ("stiffness_within", 0.2),
                        ("stiffness_between", -0.3)):
        row |= {name: value, f"{name}_lower": value - 0.5, f"{name}_upper": value + 0.5}
    return row


def _construction(number: int, name: str) -> Row:
    return {"construction": name, "n_lives": 60 - 5 * number, "n_failures": max(0, 20 - 9 * number),
            "n_unknown_failures": 2, "n_places": 12, "lowest_mm_s": 3.0, "highest_mm_s": 14.0,
            "exponent": 1.4, "exponent_lower": 0.9, "exponent_upper": 2.1, "shape": 1.7,
            "shape_lower": 1.3, "shape_upper": 2.2,
            "misfit_p_value": 0.001 if number == 1 else 0.4, "is_shown": number != 1,
            "reason": "its failures do not fit the law" if number == 1 else ""}


def _place(number: int, place: Row) -> Row:
    value = 4.0 + number % 9
    return {"service_point": place["service_point"],
            "application_class": place["application_class"],
            "construction": place["construction"], "velocity_mm_s": value,
            "velocity_mm_s_lower": 0.8 * value, "velocity_mm_s_upper": 1.3 * value,
            "n_readings": number % 3, "frequency_hz": 25.0 + number % 7 if number % 4 else None,
            "natural_frequency_hz": 40.0, "n_lives": 3, "n_failures": number % 3}


def _cells(group: str, kind: str, *, is_blank: bool) -> list[Row]:
    rows = []
    for v in range(5):
        for f in range(4):
            shown = not is_blank and (v + f) % 4 != 0
            life = 1200.0 * math.exp(-0.5 * v)
            rows.append({
                "application_class": group, "construction": kind,
                "velocity_mm_s": 3.0 * math.exp(0.2 * v), "frequency_hz": 20 * math.exp(0.2 * f),
                "natural_frequency_hz": 40.0, "b10_days": life if shown else None,
                "b10_days_lower": 0.7 * life if shown else None,
                "b10_days_upper": 1.5 * life if shown else None,
                "support": 2.0 if shown else 0.2, "n_places": 4 if shown else 1,
                "reason": None if shown else THIN})
    return rows


def _lives(group: str, kind: str, number: int) -> list[Row]:
    return [{"application_class": group, "construction": kind, "velocity_mm_s": v,
             "b10_days": 900.0 * (1 + number) / v, "b10_days_lower": 700.0 * (1 + number) / v,
             "b10_days_upper": 1300.0 * (1 + number) / v} for v in (3.0, 5.0, 8.0, 14.0)]


def _choices(place: Row, kinds: list[str]) -> list[Row]:
    if not place["construction"]:
        return []
    rows = []
    for number, kind in enumerate(kinds):
        if kind == place["construction"]:
            continue
        shown = number != 1
        rows.append({
            "service_point": place["service_point"], "construction": kind,
            "present_construction": place["construction"], "chance": 0.84 if shown else None,
            "next_chance": 0.66 if shown else None, "life_ratio": 2.2 if shown else None,
            "life_ratio_lower": 0.8 if shown else None,
            "life_ratio_upper": 5.9 if shown else None, "n_common_places": 4, "n_failures": 9,
            "reason": None if shown else "no hose of it above 9 mm/s"})
    return rows
