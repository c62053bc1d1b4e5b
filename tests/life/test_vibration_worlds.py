"""Truth is found again in invented worlds of vibration, and ways known to be wrong go wrong.

Small versions of ``tests/bench/goals_vibration.py``: few worlds, so wide limits.
"""

import numpy as np
import pytest

from tests.bench.goals_vibration import rings, worst_gap
from tests.bench.vibration_study import (
    AT,
    OFF,
    ON,
    believing,
    inside,
    latent,
    map_errors,
    outlasting_chances,
)
from tests.bench.vibration_world import World

pytestmark = [pytest.mark.slow, pytest.mark.filterwarnings("ignore::RuntimeWarning")]
SEEDS = (0, 1)
NEW = World()


def share(parts):
    return float(np.mean(np.concatenate([ok for ok, _ in parts])))


@pytest.fixture(scope="module")
def worlds():
    return [latent(NEW, seed) for seed in SEEDS]


def test_lives_exponents_and_resonance_are_found_again(worlds):
    exponents = [inside(found.draws.exponent, found.truth.m) for found in worlds]
    assert share(exponents) >= 0.80
    assert abs(np.mean([error.mean() for _, error in exponents])) < 0.10
    for rho in (OFF, ON):
        assert share([inside(*found.log_b10(AT, rho)) for found in worlds]) >= 0.80
    for found in worlds:
        assert np.median(found.draws.common("resonance")) == pytest.approx(1.8, abs=0.12)
        assert found.fit.exposure.error_sd == pytest.approx(0.3, abs=0.05)
        assert found.fit.exposure.place_sd == pytest.approx(0.6, abs=0.06)


def test_believing_readings_flattens_the_law(worlds):
    """Negative control: error sd .3 on a spread of .6 should take a fifth of the exponent."""
    ours, raw = (np.concatenate([
        inside(found.draws.exponent, found.truth.m)[1][found.n_failures >= 10]
        for found in sets]) for sets in (
            worlds, [believing(NEW, seed, is_imputed=False) for seed in SEEDS]))
    assert raw.mean() < ours.mean() - 0.10
    assert raw.mean() < -0.15


def test_a_class_mean_for_a_missing_reading_is_too_sure(worlds):
    """Negative control: lives come out too short, and their ranges too narrow."""
    put = [inside(*found.log_b10(AT, OFF)) for found in (
        believing(NEW, seed, is_imputed=True) for seed in SEEDS)]
    ours = [inside(*found.log_b10(AT, OFF)) for found in worlds]
    assert share(put) < 0.75 < share(ours)
    assert np.mean([error.mean() for _, error in put]) < -0.15


def test_chances_of_outlasting_come_true_only_from_joint_draws(worlds):
    gaps = {}
    for is_joint in (True, False):
        pairs = [outlasting_chances(found, 1, n=800, is_joint=is_joint) for found in worlds]
        gaps[is_joint] = worst_gap(*(np.concatenate(part) for part in zip(*pairs, strict=True)))
    assert gaps[True] < 0.15
    assert gaps[False] > gaps[True]


def test_the_alarm_rings_for_what_nobody_recorded_and_not_without_cause():
    for driver, expected in (("hidden", True), ("velocity", False), ("nobody", False)):
        found = latent(World(n_places=1600, stiff_on=driver), 0, is_walked=False,
                       has_place_stiffness=True)
        assert rings(found) is expected


def test_gross_errors_stay_off_the_map():
    found = latent(World(bend=1.8), 0, bends=(-0.2, 0.3, 0.8))
    wrong, shown = map_errors(found)
    gross = np.abs(wrong) > np.log(3.0)
    assert shown.any()
    assert gross[shown].mean() <= 0.10
    assert gross[shown].mean() <= 0.5 * gross[~shown].mean()
    assert gross[~shown].any()  # there is something to hide
