"""Rates of units shrunk towards one another, against published figures; ids name the source."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from etl.life.frailty import PRONE_FROM, place_rates, shrunken_rates

# Failures of ten pumps and their thousands of hours in service (Gaver and O'Muircheartaigh 1987,
# as the pump example of several packages carries them; the paper itself not seen).
FAILURES = np.array([5.0, 1.0, 5.0, 14.0, 3.0, 19.0, 1.0, 1.0, 4.0, 22.0])
HOURS = np.array([94.3, 15.7, 62.9, 126.0, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5])
SHAPE, RATE = 0.8229650562, 1.261653262  # of the gamma law, computed here to more digits


def shrunk():
    """Return the rates, the expected failures being those at the law's mean rate."""
    return place_rates(FAILURES, HOURS * SHAPE / RATE, false_share=0.2)


@pytest.mark.parametrize(("shape", "rate", "tolerance"), [
    pytest.param(0.82, 1.26, 0.005, id="NIMBLE package test suite, pump data, maximum likelihood"),
    pytest.param(SHAPE, RATE, 2e-5, id="computed here, pump data")])
def test_concentration_of_rates(shape, rate, tolerance):
    found = shrunk().concentration
    assert_allclose([found, found * RATE / SHAPE], [shape, rate], atol=tolerance)


@pytest.mark.parametrize(("pump", "rate"), [
    pytest.param(pump, rate, id=f"computed here, pump {pump}, at the maximum of the likelihood")
    for pump, rate in enumerate((
        0.060934118, 0.1074756704, 0.09075459812, 0.1164762886, 0.5879989139, 0.6069186057,
        0.7885979643, 0.7885979643, 1.434700334, 1.940455525), start=1)])
def test_shrunken_rates(pump, rate):
    assert shrunk().rate[pump - 1] * SHAPE / RATE == pytest.approx(rate, abs=1e-5)


NIST = ("NIST/SEMATECH e-Handbook ch. 8, gamma prior of a failure rate from two statements, "
        "printed results as copied in a public code repository")


@pytest.mark.parametrize(("shape", "rate", "content", "time_between"), [
    pytest.param(2.863055, 1522.506, 0.50, 600.0, id=f"{NIST}: likely to be exceeded"),
    pytest.param(2.863055, 1522.506, 0.95, 250.0, id=f"{NIST}: 95 % likely to be exceeded"),
])
def test_quantiles_of_a_gamma_law_of_rates(shape, rate, content, time_between):
    """A place of 0.863 failures where 1520.5 were expected, under a concentration of 2."""
    upper = shrunken_rates(np.array([shape - 2.0]), np.array([rate - 2.0]), 2.0,
                           2.0 * content - 1.0)[2]
    assert 1.0 / upper[0] == pytest.approx(time_between, rel=1e-6)


@pytest.mark.parametrize(("at", "share"), [
    pytest.param(0.001667, 0.5001232, id=f"{NIST}: check at 0.001667"),
    pytest.param(0.004, 0.9499963, id=f"{NIST}: check at 0.004"),
])
def test_chance_of_a_rate_from_a_level_on(at, share):
    shape, rate = 2.863, 1522.46
    in_our_unit = rate * at / PRONE_FROM  # of time, so that the level is the one of our flags
    chance = shrunken_rates(np.array([shape]) - 0.001, np.array([in_our_unit]) - 0.001, 0.001,
                            0.9)[3]
    assert 1.0 - chance[0] == pytest.approx(share, abs=1e-7)
