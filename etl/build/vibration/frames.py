"""Tables of life under vibration: constructions, their curves, places, and the summary."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.statistics import number_or_gap
from etl.build.vibration.model import Model, bend_share, by_error
from etl.life.vibration.data import REFERENCE_MM_S
from etl.life.vibration.exposure import LEAST_REPEATS, n_repeats
from etl.life.vibration.hull import LEAST_PLACES, MISFIT, misfit_p_value
from etl.life.vibration.lives import population_log_b10
from etl.settings import Settings

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

N_VELOCITIES = 13
N_BANDS = 3
"""Bands of velocity, of equal numbers of places, in which the law is checked."""


def spans(name: str, draws: Floats, confidence: float) -> dict[str, object]:
    """Return median and bounds over the first axis as three columns."""
    tail = (1.0 - confidence) / 2.0
    lower, middle, upper = np.quantile(draws, [tail, 0.5, 1.0 - tail], axis=0)
    return {name: number_or_gap(np.atleast_1d(middle)),
            f"{name}_lower": number_or_gap(np.atleast_1d(lower)),
            f"{name}_upper": number_or_gap(np.atleast_1d(upper))}


def b10_at(
    model: Model, construction: int, group: int, velocity: Floats, log_ratio: Floats
) -> Floats:
    """Return B10 in days of one construction in one class, shape (n_draws, n)."""
    n, data = velocity.size, model.input.data
    return np.exp(population_log_b10(
        model.draws, np.full(n, construction), np.full(n, group), velocity, log_ratio,
        np.zeros((n, data.covariates.shape[1])), np.full(n, data.stiffness[construction])))


def used_in(model: Model) -> NDArray[np.bool_]:
    """Tell which constructions were used in which class, shape (n_classes, n_constructions)."""
    data = model.input.data
    found = np.zeros((data.n_groups, data.n_constructions), np.bool_)
    found[data.group[data.place], data.construction] = True
    return found


def n_measured(model: Model, group: int, construction: int) -> int:
    """Return the places of a class where a construction's natural frequency was measured."""
    return int(model.input.is_measured[model.input.data.group == group, construction].sum())


def typical_hz(model: Model, group: int, construction: int) -> float:
    """Return the middle natural frequency of a construction over the places of a class, Hz.

    Measured ones go before computed ones as soon as there are enough of them.
    """
    mine = model.input.data.group == group
    if n_measured(model, group, construction) >= LEAST_PLACES:
        mine = mine & model.input.is_measured[:, construction]
    hz = model.input.natural_hz[mine, construction]
    return float(np.median(hz[np.isfinite(hz)])) if np.isfinite(hz).any() else float("nan")


def constructions_frame(model: Model, settings: Settings) -> pd.DataFrame:
    """Return one row a construction: counts, exponent, shape, range of velocities, fit."""
    given, data = model.input, model.input.data
    n = data.n_constructions
    velocity = model.fit.velocity()[0]
    pairs = model.fit.pairs
    seen, rng = pairs.n_failures, np.random.default_rng([settings.seed, 59])
    bands = np.searchsorted(np.quantile(velocity, np.arange(1, N_BANDS) / N_BANDS), velocity)

    def total(weight: Floats) -> Ints:
        return np.bincount(data.construction, weights=weight * data.count, minlength=n
                           ).round().astype(np.int64)

    ends = np.array([[at.min(), at.max()] if (at := velocity[
        pairs.place[pairs.construction == c]]).size else [0.0, 0.0] for c in range(n)])
    p_value = np.array([misfit_p_value(
        bands[pairs.place[mine]], seen[mine], model.places.expected[:, mine], rng)
        if (mine := pairs.construction == c).any() else np.nan for c in range(n)])
    is_odd = p_value < MISFIT
    return pd.DataFrame({
        "construction": list(given.constructions),
        "n_lives": total(np.ones(data.count.size)),
        "n_failures": total((data.failure == 1.0).astype(np.float64)),
        "n_unknown_failures": total(((data.failure > 0) & (data.failure < 1)).astype(np.float64)),
        "n_places": np.bincount(pairs.construction, minlength=n),
        "lowest_mm_s": REFERENCE_MM_S * np.exp(ends[:, 0]),
        "highest_mm_s": REFERENCE_MM_S * np.exp(ends[:, 1]),
        **spans("exponent", model.exponents(), settings.confidence),
        **spans("shape", model.draws.shape, settings.confidence),
        "misfit_p_value": number_or_gap(p_value), "is_shown": ~is_odd,
        "reason": np.where(is_odd, "its failures are spread over velocities as the law does not "
                           "allow", ""),
    })


def curves_frame(model: Model, constructions: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Return B10 over velocity per class and construction, between the ends of its hoses."""
    parts = [pd.DataFrame(columns=["application_class", "construction", "velocity_mm_s",
                                   "b10_days", "b10_days_lower", "b10_days_upper"])]
    for group, c in np.argwhere(used_in(model)):
        row = constructions.iloc[int(c)]
        if not row["is_shown"]:
            continue
        at = np.geomspace(row["lowest_mm_s"], row["highest_mm_s"], N_VELOCITIES)
        b10 = b10_at(model, int(c), int(group), np.log(at / REFERENCE_MM_S),
                     np.full(at.size, np.nan))
        parts.append(pd.DataFrame({
            "application_class": model.input.classes[group],
            "construction": model.input.constructions[c], "velocity_mm_s": at,
            **spans("b10_days", b10, settings.confidence)}))
    return pd.concat(parts[1:] or parts, ignore_index=True)


def places_frame(model: Model, settings: Settings) -> pd.DataFrame:
    """Return one row a place: what is believed of its velocity, and what is recorded."""
    given, data = model.input, model.input.data
    present = [given.constructions.index(name) if name in given.constructions else -1
               for name in given.places["construction"]]
    natural = np.where(np.array(present) >= 0, given.natural_hz[
        np.arange(data.n_places), np.maximum(present, 0)], np.nan)
    failed = np.bincount(data.place, weights=data.count * (data.failure == 1.0),
                         minlength=data.n_places)
    return pd.DataFrame({
        "service_point": given.places["service_point"],
        "application_class": given.places["application_class"],
        "construction": given.places["construction"],
        **spans("velocity_mm_s", REFERENCE_MM_S * np.exp(model.places.velocity),
                settings.confidence),
        "n_readings": data.n_readings,
        "frequency_hz": number_or_gap(given.places["vibration_hz"].to_numpy(np.float64)),
        "natural_frequency_hz": number_or_gap(natural),
        "n_lives": np.bincount(data.place, weights=data.count, minlength=data.n_places
                               ).round().astype(np.int64),
        "n_failures": failed.round().astype(np.int64),
    })


def errors_frame(model: Model, settings: Settings) -> pd.DataFrame:
    """Return the mean exponent under each error of a reading that may hold."""
    return pd.concat([pd.DataFrame({
        "error_sd": [error], "is_estimated": [is_estimated],
        **spans("exponent", draws[:, None], settings.confidence)})
        for error, is_estimated, draws in by_error(model, settings)], ignore_index=True)


def summary_frame(model: Model, settings: Settings) -> pd.DataFrame:
    """Return the one row about the fleet."""
    data, draws, exposure = model.input.data, model.draws, model.fit.exposure
    is_unknown = (data.failure > 0) & (data.failure < 1)
    none = np.full((draws.theta.shape[0], 1), np.nan)
    resonance = draws.common("resonance")[:, None] if draws.terms.has_resonance else none
    within, between = (none, none) if model.alarm is None else (
        model.alarm.within[:, None], (model.alarm.within + model.alarm.apart)[:, None])
    counts: Mapping[str, object] = {
        "n_places": [data.n_places], "n_places_read": [int((data.n_readings > 0).sum())],
        "n_readings": [data.reading.size], "n_repeats": [n_repeats(data)],
        "n_lives": [round(data.count.sum())],
        "n_failures": [round(float((data.count * (data.failure == 1.0)).sum()))],
        "n_unknown_failures": [round(float(data.count[is_unknown].sum()))],
        "n_unknown_counted": [float((data.count * data.failure)[is_unknown].sum())],
        "n_old_at_start": [round(float(data.count[data.entry > 0].sum()))],
        "n_unexplained": [round(float(data.count[data.rival > 0].sum()))],
    }
    return pd.DataFrame({
        "status": ["estimated"], "words": [""], **counts,
        "n_effective": pd.array([None if model.effective is None else round(model.effective)],
                                "Int64"),
        **spans("exponent", (draws.common("exponent") + bend_share(draws))[:, None],
                settings.confidence),
        "error_sd": [exposure.error_sd], "is_error_known": [n_repeats(data) >= LEAST_REPEATS],
        "place_sd": [exposure.place_sd],
        **spans("resonance", resonance, settings.confidence),
        "alarm": pd.array([None if model.alarm is None else model.alarm.rings], "boolean"),
        "alarm_words": [alarm_words(model)],
        **spans("stiffness_within", within, settings.confidence),
        **spans("stiffness_between", between, settings.confidence),
    })


def alarm_words(model: Model) -> str:
    """Say whether stiff hoses stand at bad places for reasons that nobody recorded."""
    if model.alarm is None:
        return ("Stiffness is on record for fewer than three constructions, so it cannot be told "
                "whether stiff hoses were fitted at bad places.")
    if not model.alarm.rings:
        return ("No sign that stiff hoses were fitted at places that are bad, or good, for "
                "reasons nobody recorded; a small tendency would not show.")
    way = "worse" if np.median(model.alarm.apart) < 0 else "better"
    return (f"Stiff hoses stand at places that are {way} than their velocity tells, so records "
            "alone misjudge them. Lives given here are what shows when hoses change at the same "
            "place. A trial settles it.")


def empty_summary(words: str) -> pd.DataFrame:
    """Return the one row of a fleet of which nothing can be said."""
    frame = pd.DataFrame({"status": ["none"], "words": [words]})
    counts = ["n_places", "n_places_read", "n_readings", "n_repeats", "n_lives", "n_failures",
              "n_unknown_failures", "n_old_at_start", "n_unexplained", "n_effective"]
    numbers = ["n_unknown_counted", "error_sd", "place_sd", *(
        f"{name}{end}" for name in ("exponent", "resonance", "stiffness_within",
                                    "stiffness_between") for end in ("", "_lower", "_upper"))]
    for name in counts:
        frame[name] = pd.array([None], "Int64")
    for name in numbers:
        frame[name] = pd.array([None], "Float64")
    for name in ("alarm", "is_error_known"):
        frame[name] = pd.array([None], "boolean")
    frame["alarm_words"] = [""]
    return frame
