"""Mechanisms that compete for the same hose."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate, optimize

from etl.errors import FitError
from etl.life.competing import (
    all_cause_b_life,
    cause_probability,
    cumulative_incidence,
)

SHAPES, LIVES = np.array([0.7, 2.0, 4.5]), np.array([4000.0, 1100.0, 900.0])


def hazard(t: float, one: int) -> float:
    return float(SHAPES[one] / LIVES[one] * (t / LIVES[one]) ** (SHAPES[one] - 1))


def survival(t: float) -> float:
    return float(np.exp(-np.sum((t / LIVES) ** SHAPES)))


@pytest.mark.parametrize("age", [30.0, 400.0, 900.0, 2500.0])
@pytest.mark.parametrize("one", [0, 1, 2])
def test_cumulative_incidence_agrees_with_adaptive_quadrature(age, one):
    found = cumulative_incidence(np.log(SHAPES)[None], np.log(LIVES)[None], [age])[0, 0, one]
    wanted, _ = integrate.quad(lambda t: hazard(t, one) * survival(t), 0, age, epsabs=1e-12,
                               limit=200, points=[age * 1e-4, age * 0.03])
    assert_allclose(found, wanted, atol=2e-7)


def test_one_mechanism_alone_is_its_own_distribution():
    age = np.array([0.0, 100.0, 700.0, 5000.0])
    found = cumulative_incidence([[np.log(2.2)]], [[np.log(650.0)]], age)[0, :, 0]
    assert_allclose(found, -np.expm1(-((age / 650.0) ** 2.2)), atol=1e-9)


@pytest.mark.parametrize(("low", "high"), [(1.0, 3.0), (0.5, 6.0), (0.3, 10.0), (0.1, 25.0)])
def test_incidences_and_survival_add_up_to_one(low, high):
    rng = np.random.default_rng(6)
    u, m = np.log(rng.uniform(low, high, (30, 4))), rng.normal(7.0, 0.8, (30, 4))
    age = np.geomspace(10.0, 20_000.0, 15)
    total = cumulative_incidence(u, m, age).sum(axis=-1)
    alive = np.exp(-(np.exp(np.log(age) - m[..., None]) ** np.exp(u)[..., None]).sum(axis=1))
    assert_allclose(total + alive, 1.0, atol=1e-12)


def test_draws_of_very_unlike_shapes_are_shared_as_a_fine_grid_shares_them():
    rng = np.random.default_rng(7)
    u, m = np.log(rng.uniform(0.4, 12.0, (40, 3))), rng.normal(6.0, 1.0, (40, 3))
    age = np.geomspace(20.0, 3000.0, 6)
    found = cumulative_incidence(u, m, age)
    shape, life = np.exp(u)[:, None], np.exp(m)[:, None]
    for at, end in enumerate(age):
        edges = np.concatenate(([0.0], np.geomspace(end * 1e-9, end, 60_000)))[:, None]
        hazards = (edges / life) ** shape
        gone = -np.diff(np.exp(-hazards.sum(axis=-1)), axis=1)
        parts = np.diff(hazards, axis=1)
        share = parts / np.maximum(parts.sum(axis=-1, keepdims=True), 1e-300)
        assert_allclose(found[:, at], (share * gone[..., None]).sum(axis=1), atol=2e-4)


@pytest.mark.parametrize("fraction", [1e-4, 0.1, 0.5, 0.999])
def test_all_cause_life_agrees_with_root_finding(fraction):
    found = all_cause_b_life(np.log(SHAPES)[None], np.log(LIVES)[None], [0, 0, 0], 1, fraction)
    wanted = optimize.brentq(lambda t: 1 - survival(t) - fraction, 1e-6, 1e5, xtol=1e-10)
    assert_allclose(found[0, 0], wanted, rtol=1e-8)


def test_equal_mechanisms_share_the_life_as_the_weakest_link_says():
    """Of n Weibull laws alike, the first to strike is Weibull with life / n ** (1 / shape)."""
    found = all_cause_b_life(np.full((1, 5), np.log(3.0)), np.full((1, 5), 6.0), [0] * 5, 1, 0.2)
    alone = all_cause_b_life([[np.log(3.0)]], [[6.0]], [0], 1, 0.2)
    assert_allclose(found * 5 ** (1 / 3), alone, rtol=1e-12)


def test_cells_without_strata_never_fail():
    assert np.isinf(all_cause_b_life([[0.0]], [[0.0]], [1], 3, 0.1)[0, [0, 2]]).all()


def test_cause_probability_is_the_share_of_the_hazard():
    age = 800.0
    found = cause_probability(np.log(SHAPES)[None], np.log(LIVES)[None], [age])[0, 0]
    shares = np.array([hazard(age, one) for one in range(3)])
    assert_allclose(found, shares / shares.sum(), rtol=1e-12)


def test_cause_probability_does_not_overflow():
    found = cause_probability([[3.0, 0.0]], [[5.0, 5.0]], [1e-6, 1e9])
    assert_allclose(found[0], [[0.0, 1.0], [1.0, 0.0]], atol=1e-12)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: all_cause_b_life([[0.0]], [[0.0]], [0], 1, 1.0), "fraction must lie between"),
        (lambda: all_cause_b_life([[0.0, 0.0]], [[0.0, 0.0]], [1, 0], 2, 0.1), "must rise from 0"),
        (lambda: all_cause_b_life([[0.0]], [[0.0, 1.0]], [0], 1, 0.1), "Give equal shapes"),
        (lambda: cause_probability([[0.0]], [[0.0]], [0.0]), "age must be > 0"),
    ],
)
def test_impossible_calls_are_refused(call, words):
    with pytest.raises(FitError, match=words):
        call()
