"""Scores of forecasts of counts against printed values; the source is the test id."""

import numpy as np
import pytest

from etl.decide.scores import count_crps
from etl.life.count_forecasts import CountForecasts, mixture_counts

TESTTHAT = "R package scoringRules, tests/testthat, negative binomial"
TOY = "PyPI package properscoring, tests/test_crps.py, toy ensembles"


@pytest.mark.parametrize(("size", "chance", "observed", "printed"), [
    pytest.param(100.0, 0.95, 5, 0.53215257681, id=f"{TESTTHAT} size 100"),
    pytest.param(200.1, 0.82, 44, 1.70859687251, id=f"{TESTTHAT} size 200.1"),
])
def test_crps_of_a_negative_binomial_count(size, chance, observed, printed):
    mean = np.array([[size * (1.0 - chance) / chance]])
    kept = mixture_counts(mean, mean / chance)
    assert count_crps(kept, np.array([observed]))[0] == pytest.approx(printed, abs=1e-5)


@pytest.mark.parametrize(("ensemble", "observed", "printed"), [
    pytest.param([0, 1], 0, 0.25, id=f"{TOY} 0 1, 0 came"),
    pytest.param([0, 1], 2, 1.25, id=f"{TOY} 0 1, 2 came"),
    pytest.param([0, 0, 1], 0, 0.111111111, id=f"{TOY} 0 0 1, 0 came"),
    pytest.param([0, 0, 1], 1, 0.444444444, id=f"{TOY} 0 0 1, 1 came"),
])
def test_crps_of_a_few_equally_likely_counts(ensemble, observed, printed):
    below = np.mean(np.array(ensemble)[:, None] <= np.arange(2), axis=0)
    kept = CountForecasts(np.zeros(1, int), np.array([0, 2]), below)
    assert count_crps(kept, np.array([observed]))[0] == pytest.approx(printed, abs=1e-8)
