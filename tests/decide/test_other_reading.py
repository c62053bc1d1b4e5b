"""How forecasts move where removals are read otherwise, by hand and at the edges."""

import numpy as np
from numpy.testing import assert_allclose

from etl.decide.other_reading import forecast_factor

KIND = np.array([0, 0, 1])
SEEN, EXPECTED, NONE = np.array([3.0, 1.0, 0.0]), np.array([2.0, 2.0, 1.0]), np.zeros(3)


def test_nothing_more_changes_nothing():
    for nu in (0.5, 5.0, np.inf):
        assert_allclose(forecast_factor(SEEN, EXPECTED, NONE, NONE, KIND, nu), 1.0)


def test_without_differences_between_places_only_the_class_counts():
    """Computed by hand: (4 + 2 + 1/2) / (4 + 1/2) in the first class, over 1.25 of exposure."""
    more = np.array([2.0, 0.0, 0.0])
    assert_allclose(forecast_factor(SEEN, EXPECTED, more, NONE, KIND, np.inf),
                    [6.5 / 4.5, 6.5 / 4.5, 1.0])
    further = np.array([0.5, 0.5, 0.0])
    assert_allclose(forecast_factor(SEEN, EXPECTED, more, further, KIND, np.inf),
                    [6.5 / 4.5 / 1.25, 6.5 / 4.5 / 1.25, 1.0])


def test_a_place_gains_by_its_own_count_and_its_like_less():
    """Computed by hand with 2 as concentration."""
    level = 6.5 / 4.5
    found = forecast_factor(SEEN, EXPECTED, np.array([2.0, 0.0, 0.0]), NONE, KIND, 2.0)
    first = level * (7.0 / (2.0 + 2.0 * level)) / (5.0 / 4.0)
    second = level * (3.0 / (2.0 + 2.0 * level)) / (3.0 / 4.0)
    assert_allclose(found, [first, second, 1.0])
    assert found[0] > level > found[1]


def test_no_places_and_no_failures_have_an_answer():
    empty = np.zeros(0)
    assert forecast_factor(empty, empty, empty, empty, np.zeros(0, int), 2.0).shape == (0,)
    zero, one = np.zeros(1), np.ones(1)
    assert np.isfinite(forecast_factor(zero, zero, one, zero, np.zeros(1, int), 2.0)).all()
