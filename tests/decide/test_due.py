"""Which age rules, and on which day the work is done."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from etl.decide.due import NO_WINDOW, Window, days_to_work, ruling_age

NAN, INF = np.nan, np.inf


def ruling(preventive, flat_from, flat_to, required):
    return ruling_age(*(np.array([value], float) for value in (
        preventive, flat_from, flat_to, required)))


def day(present, ruled, windows=()):
    days, chosen = days_to_work(np.array([float(present)]), ruled, windows)
    return float(days[0]), int(chosen[0])


@pytest.mark.parametrize(
    ("preventive", "required", "age", "is_required"),
    [
        (400, NAN, 400, False), (NAN, 365, 365, True), (400, 365, 365, True),
        (300, 365, 300, False), (365, 365, 365, True), (NAN, NAN, INF, False),
    ],
)
def test_the_earlier_of_preventive_age_and_required_interval_rules(
    preventive, required, age, is_required
):
    found = ruling(preventive, 250, 600, required)
    assert found.age[0] == age
    assert found.is_required[0] == is_required


def test_a_preventive_age_is_never_moved_beyond_the_required_interval():
    assert ruling(400, 300, INF, 450).latest[0] == 450
    assert ruling(400, 300, 600, NAN).latest[0] == 600
    assert ruling(NAN, NAN, NAN, 365).latest[0] == 365


@pytest.mark.parametrize(
    ("present", "windows", "expected"),
    [
        (350, [], (50, NO_WINDOW)),
        (350, [Window(40, 44), Window(300, 310)], (44, 0)),
        (350, [Window(56, 60)], (56, 0)),
        (350, [Window(48, 52)], (50, 0)),
        (350, [Window(30, 34), Window(60, 64)], (60, 1)),
        (350, [Window(300, 310)], (50, NO_WINDOW)),  # too late: costs clearly more
        (350, [Window(20, 49)], (50, NO_WINDOW)),  # beyond the last shutdown known
        (350, [Window(20, 49), Window(300, 310)], (49, 0)),
        (100, [Window(30, 34)], (300, NO_WINDOW)),  # too early
        (350, [Window(-5, -1)], (50, NO_WINDOW)),  # over
        (500, [Window(20, 24)], (20, 0)),  # overdue, and still as cheap in the shutdown
        (500, [], (1, NO_WINDOW)),
        (700, [Window(20, 24)], (1, NO_WINDOW)),  # overdue beyond the ages that cost the same
    ],
)
def test_work_is_drawn_into_a_shutdown_where_that_costs_about_the_same(
    present, windows, expected
):
    assert day(present, ruling(400, 300, 600, NAN), windows) == expected


@pytest.mark.parametrize(
    ("present", "windows", "expected"),
    [
        (300, [Window(40, 44), Window(70, 74)], (44, 0)),  # forward, never back
        (300, [Window(40, 44)], (65, NO_WINDOW)),  # beyond the last shutdown known
        (300, [Window(63, 67)], (65, 0)),  # only the days before the interval ends
        (300, [Window(70, 74)], (65, NO_WINDOW)),
        (100, [Window(40, 44), Window(300, 310)], (265, NO_WINDOW)),  # before half the interval
        (400, [Window(10, 14)], (1, NO_WINDOW)),
    ],
)
def test_required_work_is_never_put_off(present, windows, expected):
    assert day(present, ruling(NAN, NAN, NAN, 365), windows) == expected


def test_without_an_age_nothing_is_due():
    days, chosen = day(5, ruling(NAN, NAN, NAN, NAN), [Window(1, 900)])
    assert days == INF
    assert chosen == NO_WINDOW


def test_places_are_independent():
    ages = ruling_age(np.array([400.0, NAN]), np.array([300.0, NAN]), np.array([600.0, NAN]),
                      np.array([NAN, 365.0]))
    windows = [Window(40, 44), Window(300, 310)]
    days, chosen = days_to_work(np.array([350.0, 300.0]), ages, windows)
    assert_allclose(days, [44, 44])
    assert chosen.tolist() == [0, 0]
    assert_allclose(ages.of(np.array([1])).age, [365.0])
