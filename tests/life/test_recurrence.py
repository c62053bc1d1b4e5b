"""Recurrent replacements: published example, identities, agreement with a plain second way."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from etl.errors import FitError
from etl.life.recurrence import gap_trend, laplace_trend, mean_cumulative_function

# Valve-seat replacements of 41 diesel engines: (end of history, replacement ages), days.
VALVE_SEATS = [
    (761, ()), (759, ()), (667, (98,)), (667, (326, 653, 653)), (665, ()), (667, (84,)),
    (663, (87,)), (653, (646,)), (653, (92,)), (651, ()), (650, (258, 328, 377, 621)),
    (648, (61, 539)), (644, (254, 276, 298, 640)), (642, (76, 538)), (641, (635,)),
    (649, (349, 404, 561)), (631, ()), (596, ()), (614, (120, 479)), (582, (323, 449)),
    (589, (139, 139)), (593, ()), (589, (573,)), (606, (165, 408, 604)), (594, (249,)),
    (613, (344, 497)), (595, (265, 586)), (389, (166, 206, 348)), (601, ()), (601, (410, 581)),
    (611, ()), (608, ()), (587, ()), (603, (367,)), (585, (202, 563, 570)), (587, ()), (578, ()),
    (578, ()), (586, ()), (585, ()), (582, ()),
]

# Mean cumulative function and its robust standard error, as printed.
PRINTED = [
    (61, .024, .024), (84, .073, .041), (98, .146, .055), (139, .220, .073), (206, .317, .088),
    (298, .463, .110), (377, .659, .132), (404, .684, .136), (479, .784, .146), (573, .959, .169),
    (586, 1.014, .174), (604, 1.060, .185), (621, 1.119, .208), (635, 1.181, .207),
    (640, 1.244, .226), (646, 1.320, .229), (653, 1.543, .312),
]


def valve_seats() -> tuple[list[int], list[float], list[float]]:
    unit = [i for i, (_, ages) in enumerate(VALVE_SEATS) for _ in ages]
    ages = [float(age) for _, ages in VALVE_SEATS for age in ages]
    return unit, ages, [float(end) for end, _ in VALVE_SEATS]


@pytest.mark.parametrize(
    ("age", "mean", "error"),
    [pytest.param(*row, id=f"R package survival, tests/r_sas.Rout.save, {row[0]} days")
     for row in PRINTED],
)
def test_mean_cumulative_function_matches_published(age: float, mean: float, error: float) -> None:
    curve = mean_cumulative_function(*valve_seats())
    at = int(np.flatnonzero(curve.age == age)[0])
    assert_allclose([curve.mean[at], curve.standard_error[at]], [mean, error], atol=5.1e-4)


@pytest.mark.parametrize(
    ("age", "lower", "upper"),
    [pytest.param(298, 0.291503, 0.736710, id="M exp(-+ 1.96 s.e. / M) by hand, 298 days"),
     pytest.param(653, 1.038286, 2.292129, id="M exp(-+ 1.96 s.e. / M) by hand, 653 days")],
)
def test_bounds_are_symmetric_in_the_log(age: float, lower: float, upper: float) -> None:
    curve = mean_cumulative_function(*valve_seats(), confidence=0.95)
    at = int(np.flatnonzero(curve.age == age)[0])
    assert_allclose([curve.lower[at], curve.upper[at]], [lower, upper], rtol=2e-6)


def plain_second_way(
    unit: list[int], ages: list[float], start: list[float], end: list[float], age: float
) -> tuple[float, float]:
    """Return mean and standard error from the definition, event by event."""
    mean, drift = 0.0, [0.0] * len(end)
    for step in sorted({a for a in ages if a <= age}):
        watched = [i for i in range(len(end)) if start[i] < step <= end[i]]
        counts = [sum(1 for u, a in zip(unit, ages, strict=True) if u == i and a == step)
                  for i in range(len(end))]
        d, n = sum(counts), len(watched)
        mean += d / n
        for i in watched:
            drift[i] += (counts[i] - d / n) / n
    return mean, sum(w * w for w in drift) ** 0.5


def test_late_starts_agree_with_the_definition() -> None:
    rng = np.random.default_rng(3)
    start = rng.integers(0, 5, 12).astype(float)
    end = start + rng.integers(5, 15, 12)
    unit = rng.integers(0, 12, 40)
    ages = start[unit] + rng.integers(1, 6, 40)
    curve = mean_cumulative_function(unit, ages, end, start_age=start)
    for at in (3, curve.age.size - 1):
        wanted = plain_second_way(
            unit.tolist(), ages.tolist(), start.tolist(), end.tolist(), float(curve.age[at])
        )
        assert_allclose([curve.mean[at], curve.standard_error[at]], wanted, rtol=1e-12)


def test_order_of_events_does_not_matter() -> None:
    unit, ages, end = valve_seats()
    back = mean_cumulative_function(unit[::-1], ages[::-1], end)
    assert_allclose(back.standard_error, mean_cumulative_function(unit, ages, end).standard_error)


@pytest.mark.parametrize(
    ("ages", "end", "statistic"),
    [
        pytest.param(
            [5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478], 1500, -1.326949183,
            id="ten repairs in 1500 h of NIST/SEMATECH e-Handbook ch. 8, Laplace by hand",
        ),
    ],
)
def test_laplace_trend(ages: list[float], end: float, statistic: float) -> None:
    got = laplace_trend([0] * len(ages), ages, [end])
    assert_allclose(got.statistic, statistic, rtol=1e-9)
    assert got.p_value == pytest.approx(0.18453, abs=1e-4)
    split = laplace_trend(
        [0] * len(ages), np.add(ages, 100.0), [end + 100.0], start_age=[100.0]
    )
    assert_allclose(split.statistic, got.statistic, rtol=1e-12)


def test_laplace_trend_sees_a_trend_and_keeps_its_level() -> None:
    rng = np.random.default_rng(8)
    p_values = []
    for _ in range(400):
        unit = np.repeat(np.arange(5), 6)
        p_values.append(laplace_trend(unit, rng.uniform(0, 10, 30), np.full(5, 10.0)).p_value)
    assert 0.07 < np.mean(np.array(p_values) < 0.10) < 0.13
    rising = 10.0 * np.sqrt(rng.uniform(0, 1, 60))
    assert laplace_trend([0] * 60, rising, [10.0]).statistic > 3.0


def test_gap_trend_divides_by_the_spread_of_the_gaps() -> None:
    ages = [5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478]
    gaps = np.diff([0, *ages])
    wanted = -1.326949183 * gaps.mean() / gaps.std(ddof=1)
    assert_allclose(gap_trend(ages, 1500).statistic, wanted, rtol=1e-9)
    even = gap_trend([1.0, 2.0, 3.0, 4.0, 5.0], 5.5)
    assert np.isnan(even.statistic)
    assert even.n_events == 5


def test_too_few_events_are_no_trend() -> None:
    assert np.isnan(laplace_trend([0], [5.0], [9.0]).p_value)
    assert mean_cumulative_function([], [], [9.0]).mean.size == 0


@pytest.mark.parametrize(
    ("unit", "age", "words"),
    [([0], [12.0], "got age 12.0 at index 0"), ([3], [5.0], "must lie in 0 to 1"),
     ([0, 1], [5.0], "one unit an event")],
)
def test_impossible_events_are_refused(unit: list[int], age: list[float], words: str) -> None:
    with pytest.raises(FitError, match=words):
        mean_cumulative_function(unit, age, [10.0, 10.0])
