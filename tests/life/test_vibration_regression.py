"""Regression on vibration against other programs, finite differences and the plain definition."""

import warnings
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from lifelines import WeibullAFTFitter
from scipy import integrate, stats
from scipy.special import gammaln

from etl.life.vibration.data import first_log_age, gather
from etl.life.vibration.ends import expected_failure
from etl.life.vibration.fit import Fitter
from etl.life.vibration.marginal import Marginal
from etl.life.vibration.plain import plain_fit
from etl.life.vibration.resonance import resonance
from etl.life.vibration.terms import Terms
from tests.bench.vibration_world import World, make, plain_world


@pytest.fixture(scope="module")
def small():
    return make(World(n_places=60, n_constructions=5, history_years=3.0), 3)[0]


@pytest.mark.parametrize("is_truncated", [False, True], ids=["from new", "left-truncated"])
def test_plain_regression_agrees_with_lifelines(is_truncated):
    data, velocity, covariate = plain_world(1500, 1, seed=4, is_truncated=is_truncated)
    frame = pd.DataFrame({
        "days": data.low, "failed": data.failure, "entry": data.entry,
        "log_velocity": velocity, "flow": covariate})
    theta, information, _ = plain_fit(data, velocity)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of lifelines about its own libraries
        other = WeibullAFTFitter().fit(
            frame[["days", "failed", "entry", "log_velocity", "flow"]] if is_truncated else
            frame[["days", "failed", "log_velocity", "flow"]], "days", "failed",
            entry_col="entry" if is_truncated else None)
    found = other.params_
    expected = np.array([
        found["lambda_", "Intercept"], -found["lambda_", "log_velocity"],
        found["rho_", "Intercept"], -found["lambda_", "flow"]])
    assert theta == pytest.approx(expected, abs=1e-4)
    errors = np.sqrt(np.diag(np.linalg.inv(information)))
    their = other.standard_errors_
    assert errors == pytest.approx([
        their["lambda_", "Intercept"], their["lambda_", "log_velocity"],
        their["rho_", "Intercept"], their["lambda_", "flow"]], rel=1e-3)


def test_a_wrong_likelihood_would_not_agree():
    """Negative control: taking hoses seen late as seen from new moves the estimate."""
    data, velocity, _ = plain_world(1500, 1, seed=4, is_truncated=True)
    right = plain_fit(data, velocity)[0]
    wrong = plain_fit(replace(data, entry=np.zeros_like(data.entry)), velocity)[0]
    assert np.abs(right - wrong).max() > 0.05


def test_likelihood_is_the_sum_of_log_densities():
    data, velocity, covariate = plain_world(200, 2, seed=5, is_truncated=True)
    theta, _, value = plain_fit(data, velocity)
    life, exponent, shape = theta[:2], theta[2:4], np.exp(theta[4:6])
    c = data.construction
    mu = life[c] - exponent[c] * velocity - theta[6] * covariate
    z = (np.log(data.low) - mu)
    hazard = np.exp(shape[c] * z) - np.where(
        data.entry > 0, np.exp(shape[c] * (np.log(np.maximum(data.entry, 1e-9)) - mu)), 0.0)
    density = data.failure * (np.log(shape[c]) + shape[c] * z - np.log(data.low)) - hazard
    assert value == pytest.approx(density.sum(), rel=1e-10)


def test_derivatives_agree_with_finite_differences(small):
    terms = Terms(5, 4, 0, has_resonance=True, bends=(0.2,), has_place_stiffness=True)
    marginal = Fitter(small, terms, None).marginal
    rng = np.random.default_rng(1)
    theta = Fitter(small, terms, None).theta
    theta[:terms.n_seen] += 0.05 * rng.normal(size=terms.n_seen)
    gradient, information = marginal.value_and_gradient(theta)[1], marginal.information(theta)
    assert information == pytest.approx(information.T, abs=1e-8)
    for at in range(terms.n_seen):
        step = np.zeros(terms.size)
        step[at] = 1e-5
        (up, above), (down, below) = (
            marginal.value_and_gradient(theta + s) for s in (step, -step))
        assert (up - down) / 2e-5 == pytest.approx(gradient[at], abs=1e-4)
        turn = -(above - below) / 2e-5
        assert turn == pytest.approx(information[at], abs=1e-5 * np.abs(information[at]).max())


def test_a_fleet_taken_in_pieces_gives_the_same(small, monkeypatch):
    terms = Terms(5, 4, 0, has_resonance=True)
    fitter = Fitter(small, terms, None)
    whole = Marginal(terms, small, fitter.pairs, fitter.nodes)
    monkeypatch.setattr("etl.life.vibration.marginal.AT_ONCE", 500)
    pieces = Marginal(terms, small, fitter.pairs, fitter.nodes)
    assert len(pieces.blocks) > 5 > len(whole.blocks)
    for one, other in zip(whole.value_and_gradient(fitter.theta),
                          pieces.value_and_gradient(fitter.theta), strict=True):
        assert one == pytest.approx(other, rel=1e-10, abs=1e-9)
    assert whole.information(fitter.theta) == pytest.approx(
        pieces.information(fitter.theta), rel=1e-9, abs=1e-7)


@pytest.mark.parametrize("concentration", [np.inf, 40.0, 2.0])
def test_an_unexplained_end_counts_by_its_share_of_all_that_could_take_it(concentration):
    hazard, factor, rival = 0.004, 1.3, 0.002
    found = expected_failure(
        np.log([[hazard]]), np.ones((1, 1)), np.full((1, 1), factor), np.array([concentration]),
        np.array([rival]))[0]
    law = stats.gamma(concentration, scale=factor / concentration)
    exact = (hazard * factor / (hazard * factor + rival) if np.isinf(concentration) else
             integrate.quad(lambda z: law.pdf(z) * hazard * z / (hazard * z + rival), 0, 50,
                            limit=200)[0])
    assert found == pytest.approx(exact, abs=0.02)


def test_unknown_velocities_are_integrated_as_an_integral_says():
    """One place against numerical integration over velocity and the gamma factor in closed form."""
    data = make(World(n_places=1, n_constructions=1, n_groups=1, measured=1.0, k=0.0), 11)[0]
    terms = Terms(1, 1, 0)
    fitter = Fitter(data, terms, None)
    for _ in range(3):
        fitter.relocate()
    theta = fitter.theta
    life, exponent, log_shape, _, _ = terms.split(theta)
    effect, place_sd, error_sd, nu = terms.split_places(theta)
    b, pairs = np.exp(log_shape[0]), gather(data, first_log_age(data))
    n, one = float(pairs.n_failures[0]), float(pairs.sum_log_age[0])
    zero = float(pairs.moments(np.array([b]), 0)[0][0])
    def density(y):
        mu = life[0] - exponent[0] * y
        total = zero * np.exp(-b * mu)
        seen = n * np.log(b) + b * (one - n * mu) + gammaln(nu + n) - gammaln(nu) + nu * np.log(
            nu) - (nu + n) * np.log(nu + total) - one
        prior = -0.5 * ((y - effect[0]) / place_sd) ** 2 - np.log(place_sd)
        read = -0.5 * (((data.reading - y) / error_sd) ** 2).sum() - data.reading.size * np.log(
            error_sd)
        return np.exp(seen + prior + read + 60.0)

    exact = np.log(integrate.quad(density, -4.0, 4.0, epsabs=0, limit=200)[0]) - 60.0
    exact -= 0.5 * np.log(2 * np.pi)  # of the normal law of velocities, left out of `density`
    assert fitter.marginal.value(theta) == pytest.approx(exact, abs=0.05)


# The shares of the modes are ours; the ratios of a clamped beam's frequencies are
# (7.8532 / 4.7300)**2 = 2.757 and (10.9956 / 4.7300)**2 = 5.404, any textbook of vibration.
def test_resonance_peaks_at_the_frequencies_of_a_clamped_beam():
    at = np.linspace(-1.0, 2.2, 3201)
    value = resonance(at)
    peaks = at[1:-1][(value[1:-1] > value[:-2]) & (value[1:-1] > value[2:])]
    assert np.exp(peaks) == pytest.approx(
        [1.0, (7.8532 / 4.7300) ** 2, (10.9956 / 4.7300) ** 2], rel=0.01)
    assert resonance(np.array([-3.5, np.nan])) == pytest.approx([0.0, 0.0], abs=0.01)


def test_a_hose_found_failed_counts_inside_its_interval():
    data = make(World(n_places=40, n_constructions=3), 6)[0]
    wide = replace(data, low=np.where(data.failure > 0, 0.6 * data.low, data.low),
                   high=np.where(data.failure > 0, 1.4 * data.low, np.inf))
    fitter = Fitter(wide, Terms(3, 4, 0), None)
    fitter.relocate()
    failed = data.failure > 0
    age = np.exp(fitter.log_age)
    assert (age[failed] > wide.low[failed]).all()
    assert (age[failed] < wide.high[failed]).all()
    assert age[~failed] == pytest.approx(wide.low[~failed])


def test_stiffness_of_a_place_does_not_follow_how_long_its_hoses_lasted(small):
    """By definition: the plain mean over constructions used, however often one was replaced."""
    often = replace(small, count=np.where(small.construction == 0, 9.0, 1.0))
    for p in range(small.n_places):
        used = np.unique(small.construction[small.place == p])
        assert often.place_stiffness[p] == pytest.approx(small.stiffness[used].mean(), abs=1e-12)
