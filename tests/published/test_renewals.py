"""Expected renewals and failures to come against published tables; ids name the source."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.special import gamma

from etl.life.cell_law import CellLaw
from etl.life.fit import fit_strata
from etl.life.renewal import forecast_places
from etl.life.renewal_grid import renewal_function, steps_of
from etl.life.weibull import cumulative_hazard
from tests.published.lives_data import published

TABLE = "Tijms (2003) A First Course in Stochastic Models, Table 8.1.1 p. 312"
CAGE = "Meeker and Escobar (1998) Table 12.1, bearing cage (from memory)"
# renewals by time in mean lives
EVEN = {0.1: 0.0061, 0.2: 0.0261, 0.4: 0.1087, 0.6: 0.2422, 0.8: 0.4141, 1.0: 0.6091, 1.2: 0.8143,
        1.5: 1.124, 2.0: 1.627, 2.5: 2.125}
UNEVEN = {0.2: 0.3841, 0.5: 0.7785, 1.0: 1.357, 1.5: 1.901, 2.0: 2.428, 2.5: 2.947, 3.0: 3.460,
          3.5: 3.969, 5.0: 5.485, 7.5: 7.995}
ROWS = [(2.101349095, 0.25, t, value) for t, value in EVEN.items()]
ROWS += [(0.7209047424, 2.0, t, value) for t, value in UNEVEN.items()]


@pytest.mark.parametrize(("shape", "variation", "t", "renewals"), [
    pytest.param(*row, id=f"{TABLE}, c2 {row[1]:g}, t {row[2]:g}") for row in ROWS])
def test_renewals_of_weibull_lives_of_mean_one(shape, variation, t, renewals):
    second = gamma(1 + 2 / shape) / gamma(1 + 1 / shape) ** 2
    assert second - 1.0 == pytest.approx(variation, abs=1e-8)
    steps = t * np.linspace(0.0, 1.0, 2001)
    hazard = cumulative_hazard(steps, shape, 1.0 / gamma(1 + 1 / shape))
    found = renewal_function(steps_of(hazard[:, None]))[-1, 0]
    assert found == pytest.approx(renewals, abs=1e-4 if renewals < 1.0 else 6e-4)


def survivors():
    """Return the law, the hours of the parts still running, and how many have run them."""
    lives = published("bearing_cage")
    fit = fit_strata(*lives.arguments())
    held = np.isinf(lives.high)
    return fit.shape[0], fit.characteristic_life[0], lives.low[held], lives.count[held]


@pytest.mark.parametrize("failures", [pytest.param(5.057, id=CAGE)])
def test_failures_to_come_among_survivors(failures):
    shape, life, hours, count = survivors()
    assert count.sum() == 1697
    days = 365.25 / 300.0  # the next 300 h pass as the twelve months of a forecast
    law = CellLaw(np.full((1, 1), shape, np.float32),
                  np.full((1, 1), np.log(life * days), np.float32))
    blocks = forecast_places(law, np.arange(hours.size), hours * days,
                             np.ones((hours.size, 1), np.float32))
    first = np.concatenate([block.chance_12_months[:, 0] for block in blocks])
    assert count @ first == pytest.approx(failures, abs=0.01)


@pytest.mark.parametrize(("age", "chance"), [
    pytest.param(50.0, 0.0007629180272, id="computed here on the bearing cage, age 50"),
    pytest.param(150.0, 0.001158240397, id="computed here on the bearing cage, age 150"),
])
def test_chance_of_failing_within_300_h(age, chance):
    shape, life, _, _ = survivors()
    spent = cumulative_hazard(age + 300.0, shape, life) - cumulative_hazard(age, shape, life)
    assert_allclose(-np.expm1(-spent), chance, rtol=1e-6)


@pytest.mark.parametrize("failures", [
    pytest.param(0.2197203918, id="computed here on the bearing cage, 288 parts of age 50")])
def test_failures_to_come_of_one_age(failures):
    shape, life, hours, count = survivors()
    spent = cumulative_hazard(350.0, shape, life) - cumulative_hazard(50.0, shape, life)
    assert_allclose(count[hours == 50.0] * -np.expm1(-spent), [failures], rtol=1e-6)
