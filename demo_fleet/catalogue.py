"""Constructions and the parts under which they are bought."""

from __future__ import annotations

from typing import Any

import numpy as np

from .places import Place, Scenario, class_rng

Row = dict[str, Any]


def part_number(construction: str, dn: int, length: int) -> str:
    """Return the invented part number of a construction at one size and length."""
    return f"{construction[2:].replace('-', '')}.{dn:03d}.{length:04d}"


def constructions(scenario: Scenario) -> list[Row]:
    """Return the register of constructions, one row a construction and nominal size."""
    power = scenario["scaling"]
    rows = []
    for item in scenario["constructions"]:
        for dn in power["sizes"]:
            size = dn / 50.0
            radius = size ** power["radius"]
            rows.append({
                "construction": item["name"], "core_alloy": item["core_alloy"],
                "corrugation": "annular", "pitch": item["pitch"], "wall_mm": item["wall_mm"],
                "plies": item["plies"], "braid_layers": item["braid_layers"],
                "braid_alloy": item["braid_alloy"], "wear_layer": item.get("wear_layer"),
                "liner": None, "dn": dn,
                "mass_kg_per_m": round(item["mass"] * size ** power["mass"], 2),
                "bending_stiffness_n_m2": round(item["stiffness"] * size ** power["stiffness"], 1),
                "min_bend_radius_static_mm": 5 * round(item["radius_static"] * radius / 5),
                "min_bend_radius_dynamic_mm": 5 * round(item["radius_dynamic"] * radius / 5),
                "rated_pressure_bar": round(item["rating"] * size ** power["rating"]),
            })
    return rows


def parts(scenario: Scenario, places: list[Place], seed: int) -> list[Row]:
    """Return the register of parts: every size and length of a class in every construction."""
    wanted = {(place.dn, place.length, name) for place in places for name in place.kind["mix"]}
    wanted |= {(place.dn, place.length, name) for place in places if place.trial
               for name in place.trial["arms"].values()}
    by_name = {item["name"]: item for item in scenario["constructions"]}
    rng = class_rng(seed, 2)
    return [_part(by_name[name], dn, length, scenario, rng)
            for dn, length, name in sorted(wanted, key=lambda key: (key[2], key[0], key[1]))]


def _part(item: Row, dn: int, length: int, scenario: Scenario, rng: np.random.Generator) -> Row:
    size = (dn / 50.0) ** scenario["scaling"]["price"]
    price = item["price"] * size * (0.55 + 0.45 * length / 600.0) * rng.uniform(0.95, 1.05)
    ends = ("flange, fixed", "flange, floating") if dn >= 65 else ("union", "union")
    return {
        "part_number": part_number(item["name"], dn, length), "construction": item["name"],
        "dn": dn, "live_length_mm": length, "end_a": ends[0], "end_b": ends[1],
        "unit_price": round(float(price), 2),
        "lead_time_days": int(item["lead_days"] + rng.integers(0, 6)),
        "lead_time_sd_days": item["lead_sd"],
        "minimum_order": 2 if item["price"] > 400 else 1,
        "shelf_life_days": None, "replaces": None,
    }
