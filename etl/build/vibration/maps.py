"""Maps of life over velocity and frequency, and which construction outlasts the present one."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.statistics import number_or_gap
from etl.build.vibration.frames import b10_at, n_measured, spans, typical_hz, used_in
from etl.build.vibration.model import Model
from etl.counted import counted
from etl.decide.eligibility import Candidate, Duty, objection
from etl.life.vibration.data import REFERENCE_MM_S
from etl.life.vibration.hull import (
    LEAST_PLACES,
    LEAST_SUPPORT,
    MOST_OLD,
    NEAR_RESONANCE,
    WIDEST,
    Support,
    support,
)
from etl.life.vibration.lives import log_life_at, log_median_here, outlasting
from etl.settings import Settings

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

STEP = 0.2
"""Width of a cell, in log velocity and log frequency: about a fifth."""
BEYOND = 1.1
"""A place up to this much above the fastest hose of a construction is still like it."""
LEAST_COMMON = 3
MOST_PLACES, MOST_COMPARED = 400, 6_000
"""Places, and places times constructions, compared at: those where vibration costs most hoses."""

CELL_COLUMNS = ["application_class", "construction", "velocity_mm_s", "frequency_hz",
                "natural_frequency_hz", "b10_days", "b10_days_lower", "b10_days_upper", "support",
                "n_places", "reason"]
CHOICE_COLUMNS = ["service_point", "present_construction", "construction", "chance",
                  "next_chance", "life_ratio", "life_ratio_lower", "life_ratio_upper",
                  "n_common_places", "n_failures", "reason"]


def cells_frame(
    model: Model, constructions: pd.DataFrame, settings: Settings
) -> pd.DataFrame:
    """Return the map of every class and construction: a life, or the reason why there is none."""
    data, velocity = model.input.data, model.fit.velocity()[0]
    log_hz = np.log(model.input.places["vibration_hz"].to_numpy(np.float64))
    if not np.isfinite(log_hz).any():
        return pd.DataFrame(columns=CELL_COLUMNS)
    v, f = (grid.ravel() for grid in np.meshgrid(_middles(velocity), _middles(log_hz),
                                                 indexing="ij"))
    pairs, expected = model.fit.pairs, model.places.expected.mean(axis=0)
    known = np.clip(1.0 - (model.fit.velocity()[1] / model.fit.exposure.place_sd) ** 2, 0.0, 1.0)
    parts = [pd.DataFrame(columns=CELL_COLUMNS)]
    for c in range(data.n_constructions):
        mine = pairs.construction == c
        at = pairs.place[mine]
        around = support((v, f), (velocity[at], log_hz[at]), pairs.n_failures[mine],
                         expected[mine], known[at], at)
        for group in np.flatnonzero(used_in(model)[:, c]):
            parts.append(_map(model, constructions.iloc[c], (int(group), c), (v, f), around,
                              settings))
    return pd.concat(parts[1:], ignore_index=True)[CELL_COLUMNS]


def _middles(values: Floats) -> Floats:
    """Return the middles of cells of even width that cover the values."""
    known = values[np.isfinite(values)]
    first, last = math.floor(known.min() / STEP), math.floor(known.max() / STEP)
    return (np.arange(first, last + 1) + 0.5) * STEP


def _map(
    model: Model, row: pd.Series, code: tuple[int, int], at: tuple[Floats, Floats],
    around: Support, settings: Settings,
) -> pd.DataFrame:
    """Return the cells of one class and construction."""
    group, c = code
    natural = typical_hz(model, group, c)
    ratio = at[1] - (math.log(natural) if natural > 0 else math.nan)
    reason = np.full(at[0].size, "", dtype=object)
    is_thin = (around.failures < LEAST_SUPPORT) | (around.n_places < LEAST_PLACES)
    speed = REFERENCE_MM_S * np.exp(at[0])
    is_thin |= (speed < row["lowest_mm_s"]) | (speed > row["highest_mm_s"])
    if not row["is_shown"]:
        reason[:] = row["reason"]
    reason[(reason == "") & is_thin] = "too few hoses nearby"
    if n_measured(model, group, c) < LEAST_PLACES:
        reason[(reason == "") & (np.abs(ratio) < NEAR_RESONANCE)] = (
            "near the natural frequency, which is computed and not measured")
    if old_share(model) > MOST_OLD:
        reason[(reason == "") & (np.abs(ratio) < NEAR_RESONANCE)] = (
            "near the natural frequency, and too many hoses date from before the records")
    open_ = np.flatnonzero(reason == "")
    b10 = np.full((model.draws.theta.shape[0], at[0].size), np.nan)
    if open_.size:
        b10[:, open_] = b10_at(model, c, group, at[0][open_], ratio[open_])
        tail = (1.0 - settings.confidence) / 2.0
        low, high = np.quantile(b10[:, open_], [tail, 1.0 - tail], axis=0)
        wide = open_[high > WIDEST * low]
        reason[wide], b10[:, wide] = "known to no better than a factor of seven", np.nan
    return pd.DataFrame({
        "application_class": model.input.classes[group], "construction": row["construction"],
        "velocity_mm_s": speed, "frequency_hz": np.exp(at[1]),
        "natural_frequency_hz": number_or_gap(np.full(at[0].size, natural)),
        **spans("b10_days", b10, settings.confidence),
        "support": around.failures, "n_places": around.n_places, "reason": reason,
    })


def old_share(model: Model) -> float:
    """Return the share of lives known only from an age on, or whose end nobody wrote down."""
    data = model.input.data
    is_old = (data.entry > 0.0) | (data.rival > 0.0)
    return float(data.count[is_old].sum() / data.count.sum())


def choices_frame(
    model: Model, constructions: pd.DataFrame,
    derating: dict[str, list[tuple[float, float]]], settings: Settings,
) -> pd.DataFrame:
    """Return how each other construction would do at the places that lose most hoses."""
    given, data = model.input, model.input.data
    entries = {(hose.construction, hose.dn): hose for hose in given.hoses}
    used = np.zeros((data.n_places, data.n_constructions), np.bool_)
    used[data.place, data.construction] = True
    listed = _listed(model)
    median, shape = _medians(model, listed), model.draws_here.shape
    rng = np.random.default_rng([settings.seed, 60])
    known, share_old = constructions.to_dict("records"), old_share(model)
    rows = []
    for at, number in enumerate(listed):
        place = given.places.iloc[number].to_dict()
        present = given.constructions.index(place["construction"])
        here = float(REFERENCE_MM_S * np.exp(np.median(model.places.velocity[:, number])))
        for c, name in enumerate(given.constructions):
            if c == present:
                continue
            common = int((used[:, c] & used[:, present]).sum())
            reason = _objection(entries.get((name, place["dn"])), place, derating) or _blank(
                model, known, (number, c, present), here, common) or _near_resonance(
                model, (number, c, present), share_old)
            found: dict[str, object] = {}
            if not reason:
                found = _compared(shape, median[:, :, at], (c, present), rng)
            rows.append({
                "service_point": place["service_point"],
                "present_construction": place["construction"], "construction": name,
                "n_common_places": common, "n_failures": known[c]["n_failures"], "reason": reason,
                **found})
    return pd.DataFrame(rows, columns=CHOICE_COLUMNS)


def _listed(model: Model) -> Ints:
    """Return the places to compare at: with a hose now, most failures by vibration first."""
    data, given = model.input.data, model.input
    failed = np.bincount(data.place, weights=data.count * data.failure, minlength=data.n_places)
    has_hose = given.places["construction"].isin(given.constructions).to_numpy()
    order = np.argsort(-failed, kind="stable")
    most = min(MOST_PLACES, MOST_COMPARED // data.n_constructions)
    return np.asarray(np.sort(order[has_hose[order]][:most]), np.int64)


def _medians(model: Model, listed: Ints) -> Floats:
    """Return log median lives, shape (n_constructions, n_draws, n_listed)."""
    data, draws, places = model.input.data, model.draws_here, model.places
    found = np.empty((data.n_constructions, draws.theta.shape[0], listed.size))
    stiff, shape = data.place_stiffness[listed], draws.shape
    velocity, frequency = places.velocity[:, listed], places.frequency[:, listed]
    for c in range(data.n_constructions):
        for number, theta in enumerate(draws.theta):
            life = log_life_at(
                draws.terms, theta, np.full(listed.size, c), data.group[listed],
                velocity[number], data.log_frequency_ratio[listed, c] - frequency[number],
                data.covariates[listed], stiff)
            found[c, number] = log_median_here(
                life, shape[number, c], places.factor[number, listed])
    return found


def _objection(
    hose: Candidate | None, place: Mapping[Hashable, Any],
    derating: dict[str, list[tuple[float, float]]],
) -> str:
    """Say why a construction may not serve the place at all."""
    if hose is None:
        return "not in the catalogue in this size"
    duty = Duty(*(_known(place[name]) for name in (
        "dn", "pressure_bar", "temperature_c", "bend_radius_mm")))
    return objection(hose, duty, derating) or ""


def _blank(
    model: Model, known: list[dict[Hashable, Any]], code: tuple[int, int, int], here: float,
    common: int,
) -> str:
    """Say why no chance can be given; empty when one can."""
    number, c, present = code
    row, other = known[c], known[present]
    if not (row["is_shown"] and other["is_shown"]):
        return str(row["reason"] or f"present hose: {other['reason']}")
    highest = float(row["highest_mm_s"])
    if here > BEYOND * highest:
        return f"no hose of it above {highest:.0f} mm/s"
    if model.alarm is not None and model.alarm.rings and common < LEAST_COMMON:
        return f"used together at {counted(common, 'place')} only; a trial settles it"
    return ""


def _near_resonance(model: Model, code: tuple[int, int, int], share_old: float) -> str:
    """Say why nothing is told of two constructions where one of them may resonate.

    A computed natural frequency is not trusted there. A measured one is, unless too many hoses date
    from before the records: that they had survived shows mild places, most of all at resonance.
    """
    if not model.draws.terms.has_resonance:
        return ""
    number, *both = code
    is_near = np.abs(model.input.data.log_frequency_ratio[number, both]) < NEAR_RESONANCE
    is_guessed = is_near & ~model.input.is_measured[number, both]
    why = "computed natural frequency is too near; measure it"
    if not is_guessed.any():
        why = "natural frequency is too near, and too many hoses date from before the records"
    is_bad = is_guessed if is_guessed.any() else is_near & (share_old > MOST_OLD)
    if not is_bad.any():
        return ""
    whose = "its" if is_bad[0] else "the present hose's"
    return f"{whose} {why}"


def _compared(
    shape: Floats, median: Floats, code: tuple[int, int], rng: np.random.Generator
) -> dict[str, object]:
    """Return chances and ratio of lives of one construction against the present one."""
    c, present = code
    own, other = median[c], median[present]
    chance, (lower, middle, upper) = outlasting(own, other)
    luck = np.log(rng.standard_exponential((2, own.size)) / np.log(2.0))
    gap = own + luck[0] / shape[:, c] - other - luck[1] / shape[:, present]
    return {"chance": chance, "next_chance": float((gap > 0).mean()), "life_ratio": middle,
            "life_ratio_lower": lower, "life_ratio_upper": upper}


def _known(value: object) -> float | None:
    """Return a number, or None where the register is silent."""
    number = math.nan if value is None or value is pd.NA else float(str(value))
    return None if math.isnan(number) else number
