"""Lives implied by a regression on vibration, against integrals and roots of scipy."""

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from etl.life.vibration.draws import VibrationDraws
from etl.life.vibration.lives import population_log_b10
from etl.life.vibration.nodes import FREQUENCY_SD
from etl.life.vibration.resonance import resonance
from etl.life.vibration.terms import Terms

TERMS = Terms(1, 1, 0, has_resonance=True)


def draws_at(log_life, exponent, shape, power, nu):
    theta = np.zeros((1, TERMS.size))
    theta[0, :3] = log_life, exponent, np.log(shape)
    theta[0, TERMS.at("resonance")], theta[0, TERMS.at("log_nu")] = power, np.log(nu)
    return VibrationDraws(TERMS, theta)


def by_integral(log_life, shape, power, nu, rho):
    """Solve for the age that a tenth of places' hoses do not reach, places differing normally."""
    error = np.linspace(-6.0, 6.0, 6001) * FREQUENCY_SD
    mu = log_life - power * resonance(rho - error)
    density = stats.norm.pdf(error, scale=FREQUENCY_SD)

    def lost(log_age):
        died = -np.expm1(-nu * np.log1p(np.exp(np.minimum(shape * (log_age - mu), 500.0)) / nu))
        return integrate.simpson(died * density, x=error) - 0.1

    return optimize.brentq(lost, log_life - 60.0, log_life + 30.0, xtol=1e-7)


@pytest.mark.parametrize("shape", [1.2, 3.0])
@pytest.mark.parametrize("rho", [-1.5, -0.3, 0.0, 0.15, 1.0])
def test_a_tenth_lost_is_what_an_integral_over_places_says(rho, shape):
    """Nine Gauss points put the peak where it stands: B10 on resonance came out 28 % short."""
    draws = draws_at(7.0, 2.0, shape, 1.8, 3.0)
    found = population_log_b10(draws, np.zeros(1, int), np.zeros(1, int), np.zeros(1),
                               np.array([rho]), np.zeros((1, 0)), np.zeros(1))
    assert found[0, 0] == pytest.approx(by_integral(7.0, shape, 1.8, 3.0, rho), abs=0.002)


def test_search_settles_for_extreme_draws():
    """Ages of draws far out: steep and flat, places alike and very unlike."""
    rng = np.random.default_rng(1)
    theta = np.zeros((400, TERMS.size))
    theta[:, 0], theta[:, 1] = rng.normal(7.0, 3.0, 400), rng.normal(2.0, 2.0, 400)
    theta[:, 2] = rng.normal(0.6, 0.8, 400)
    theta[:, TERMS.at("resonance")] = rng.normal(2.0, 1.5, 400)
    theta[:, TERMS.at("log_nu")] = rng.uniform(-3.0, 8.0, 400)
    draws = VibrationDraws(TERMS, theta)
    rho = np.array([-0.4, 0.0, 0.2, 1.1])
    zero, y = np.zeros(4, int), np.full(4, 0.5)
    found = population_log_b10(draws, zero, zero, y, rho, np.zeros((4, 0)), np.zeros(4))
    for number in range(0, 400, 40):
        b, nu = draws.shape[number, 0], draws.nu[number]
        log_life = theta[number, 0] - theta[number, 1] * 0.5
        for j in (0, 1, 3):
            assert found[number, j] == pytest.approx(by_integral(
                log_life, b, theta[number, TERMS.at("resonance")], nu, rho[j]), abs=0.01)
