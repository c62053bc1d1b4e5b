"""Removals without a reason, shared out; taking them as suspensions must fail."""

import numpy as np
import pytest

from etl.decide.unknown_reasons import failed_share, failures_factor
from tests.bench.unknown_world import biases


def test_a_forecast_of_all_failures_is_right_when_shared_out_and_a_quarter_low_when_not():
    alone, shared = biases(range(3))
    assert abs(shared) < 0.05
    assert alone < -0.20


def test_equal_hazards_share_evenly_and_no_hazard_says_nothing():
    n = np.array([4.0, 6.0])
    assert failed_share(np.ones(2), np.ones(2), n, 10.0, 10.0).tolist() == [0.5, 0.5]
    assert failed_share(np.zeros(2), np.zeros(2), n, 10.0, 10.0).tolist() == [0.5, 0.5]
    assert failed_share(np.ones(2), np.zeros(2), n, 10.0, 0.0).tolist() == [1.0, 1.0]


def test_the_share_follows_the_age_and_gains_where_age_speaks_for_failure():
    share = failed_share(np.array([0.1, 0.9]), np.array([0.9, 0.1]), np.array([1.0, 9.0]), 5.0, 5.0)
    assert share[0] < share[1]
    assert share[1] > 0.9


def test_the_factor_counts_shared_failures_over_recorded_ones():
    assert failures_factor(np.array([0.25, 0.5]), np.array([4.0, 2.0]), 20.0) == pytest.approx(1.1)
    assert failures_factor(np.zeros(0), np.zeros(0), 20.0) == 1.0
    assert failures_factor(np.array([1.0]), np.array([3.0]), 0.0) == 1.0
