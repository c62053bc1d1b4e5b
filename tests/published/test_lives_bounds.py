"""Bounds and lives at a given shape against published figures; ids name the source."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from etl.life.bounds import likelihood_ratio_bounds, normal_bounds
from etl.life.bounds_survival import normal_survival
from etl.life.fit import fit_arranged
from etl.life.fixed_shape import life_at_shape
from etl.life.strata import arrange_strata
from etl.life.weibull import b_life, failure_probability
from tests.published.lives_data import published


def fitted(name):
    strata = arrange_strata(*published(name).arguments())
    return strata, fit_arranged(strata)


def ends(bounds):
    return [np.ravel(bounds.lower)[0], np.ravel(bounds.upper)[0]]


@pytest.mark.parametrize(("name", "figure", "low", "high", "tolerance"), [
    pytest.param("shock_absorber", "characteristic_life", 22347.77, 34380.49, 1e-6,
                 id="R package SMRD, README: eta, normal on the log scale"),
    pytest.param("shock_absorber", "shape", 2.01, 4.97, 3e-3,
                 id="R package SMRD, README: beta, normal on the log scale"),
    pytest.param("shock_absorber", "characteristic_life", np.exp(10.0144824), np.exp(10.4452437),
                 2e-6, id="weibulltools vignette Part III: mu"),
    pytest.param("shock_absorber", "shape", 1 / 0.4978267, 1 / 0.2011036, 1e-5,
                 id="weibulltools vignette Part III: sigma"),
    pytest.param("shock_absorber", "b_life", 10221.84, 18094.68, 1e-5,
                 id="computed here on Meeker and Escobar p. 630: B10"),
    pytest.param("nist_8413", "shape", 0.97127, 3.04875, 1e-5,
                 id="computed here on NIST 8.4.1.3: beta"),
])
def test_normal_bounds_match(name, figure, low, high, tolerance):
    bounds = normal_bounds(fitted(name)[1], 0.95)
    assert_allclose(ends(getattr(bounds, figure)), [low, high], rtol=tolerance)


@pytest.mark.parametrize(("figure", "error", "tolerance"), [
    pytest.param(1, 3046.02, 0.02, id="R package SMRD, README: standard error of eta"),
    pytest.param(0, 0.73, 6e-3, id="R package SMRD, README: standard error of beta"),
])
def test_standard_errors_from_the_observed_information(figure, error, tolerance):
    fit = fitted("shock_absorber")[1]
    value = (fit.shape, fit.characteristic_life)[figure][0]
    found = value * np.sqrt(np.linalg.inv(fit.information[0])[figure, figure])
    assert found == pytest.approx(error, abs=tolerance)


@pytest.mark.parametrize(("low", "high"), [
    pytest.param(0.00186, 0.0655, id="weibulltools vignette Part III: F(6700)")])
def test_normal_bounds_of_a_failure_probability(low, high):
    found = normal_survival(fitted("shock_absorber")[1], [6700.0], 0.95)
    assert_allclose([1 - found.upper[0, 0], 1 - found.lower[0, 0]], [low, high], atol=6e-5)


@pytest.mark.parametrize(("lower", "error"), [
    pytest.param(4159.0, 1943.0, id="weibulltools vignette Part III: life at F(6700) = 0.0112")])
def test_one_sided_normal_bound_of_an_early_age(lower, error):
    fit = fitted("shock_absorber")[1]
    share = float(failure_probability(6700.0, fit.shape[0], fit.characteristic_life[0]))
    found = normal_bounds(fit, 0.90, (share,)).b_life
    assert found.lower[0, 0] == pytest.approx(lower, abs=0.6)
    half = np.log(found.upper[0, 0] / found.lower[0, 0]) / (2 * stats.norm.ppf(0.95))
    assert 6700.0 * half == pytest.approx(error, abs=0.6)


@pytest.mark.parametrize(("name", "figure", "low", "high", "tolerance"), [
    pytest.param("bearing_cage", "b_life", 2094.0, 22144.0, 1.4e-4,
                 id="Meeker and Escobar 1998, bearing cage B10 (from memory)"),
    pytest.param("nist_8413", "shape", 0.90565, 2.88574, 1e-5, id="computed here, NIST beta"),
    pytest.param("nist_8413", "characteristic_life", 437.557, 1118.878, 1e-5,
                 id="computed here, NIST eta"),
    pytest.param("nist_8413", "b_life", 59.855, 271.950, 1e-5, id="computed here, NIST B10"),
    pytest.param("lz_bearings", "shape", 1.50415, 2.79154, 1e-5, id="computed here, LZ beta"),
    pytest.param("lz_bearings", "b_life", 16.288, 40.765, 4e-5, id="computed here, LZ B10"),
    pytest.param("shock_absorber", "shape", 1.89853, 4.77139, 1e-5,
                 id="computed here, shock absorber beta"),
    pytest.param("shock_absorber", "characteristic_life", 23330.1, 37961.9, 1e-5,
                 id="computed here, shock absorber eta"),
    pytest.param("shock_absorber", "b_life", 9371.2, 17291.2, 1e-5,
                 id="computed here, shock absorber B10"),
])
def test_likelihood_ratio_bounds_match(name, figure, low, high, tolerance):
    bounds = likelihood_ratio_bounds(*fitted(name), 0.95)
    assert_allclose(ends(getattr(bounds, figure)), [low, high], rtol=tolerance)


@pytest.mark.parametrize(("shape", "life", "b10"), [
    pytest.param(1.5, 28982.157, 6465.21, id="computed here, bearing cage at shape 1.5"),
    pytest.param(2.0, 12320.337, 3999.093, id="computed here, bearing cage at shape 2"),
    pytest.param(3.0, 5408.951, 2554.694, id="computed here, bearing cage at shape 3"),
])
def test_life_at_a_given_shape(shape, life, b10):
    found = life_at_shape(fitted("bearing_cage")[0], shape).estimate[0]
    assert_allclose([found, b_life(0.1, shape, found)], [life, b10], rtol=1e-6)


def test_lower_bound_at_a_given_shape_computed_here():
    found = life_at_shape(fitted("bearing_cage")[0], 2.0, 0.90)
    assert_allclose(found.lower, [8769.572], rtol=1e-7)


def test_bound_without_failures_nist_8_4_5_1():
    """NIST/SEMATECH e-Handbook 8.4.5.1: lower bound T / -log(alpha); T = 1000, alpha = 0.05."""
    strata = arrange_strata([0] * 4, 0.0, [250.0] * 4, [np.inf] * 4, 1.0, 1)
    found = life_at_shape(strata, 1.0, 0.90)
    assert_allclose(found.lower, [333.80820], rtol=1e-7)
    assert np.isnan(found.estimate[0])
    assert np.isinf(found.upper[0])
