"""Formulas against identities and scipy."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from etl.life import weibull

AGES = np.array([0.0, 1e-6, 0.3, 1.0, 2.5, 40.0])
LAWS = [(0.6, 2.0), (1.0, 0.5), (3.4, 10.0)]


@pytest.mark.parametrize(("shape", "life"), LAWS)
def test_formulas_agree_with_scipy(shape, life):
    law = stats.weibull_min(shape, scale=life)
    assert_allclose(weibull.survival(AGES, shape, life), law.sf(AGES), rtol=1e-12)
    assert_allclose(weibull.failure_probability(AGES, shape, life), law.cdf(AGES), rtol=1e-12)
    later = AGES[1:]
    density = weibull.log_likelihood_terms(shape, life, 0.0, later, later)
    assert_allclose(density, law.logpdf(later), rtol=1e-10)
    assert weibull.mean_life(shape, life) == pytest.approx(law.mean())


@pytest.mark.parametrize(("shape", "life"), LAWS)
def test_b_life_undoes_failure_probability(shape, life):
    fraction = np.array([1e-9, 0.1, 0.5, 0.999])
    ages = weibull.b_life(fraction, shape, life)
    assert_allclose(weibull.failure_probability(ages, shape, life), fraction, rtol=1e-11)


def test_survival_and_failure_add_up_to_one():
    total = weibull.survival(AGES, 1.7, 3.0) + weibull.failure_probability(AGES, 1.7, 3.0)
    assert_allclose(total, 1.0, rtol=1e-15)


def test_log_likelihood_of_each_kind_is_that_of_scipy():
    law = stats.weibull_min(1.6, scale=8.0)
    expected = (law.logpdf(3.0) + law.logsf(5.0) + np.log(law.cdf(9.0) - law.cdf(6.0))
                + 2.0 * (law.logpdf(7.0) - law.logsf(2.0)))
    found = weibull.log_likelihood(1.6, 8.0, [0, 0, 0, 2], [3, 5, 6, 7], [3, np.inf, 9, 7],
                                   [1, 1, 1, 2])
    assert found == pytest.approx(expected)
