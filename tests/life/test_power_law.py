"""Power law of recurrent events: published examples, exact laws, coverage."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate, optimize, stats

from etl.errors import FitError
from etl.life.power_law import fit_power_law, gap_at_end, total_log, total_log_trend
from etl.life.recurrence import laplace_trend, mean_cumulative_function

NIST = [5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478]
HANDBOOK = [2.6, 16.5, 16.5, 17.0, 21.4, 29.1, 33.3, 56.5, 63.1, 70.6, 73.0, 77.7, 93.9, 95.5, 98.1,
            101.1, 132.0, 142.2, 147.7, 149.0, 167.2, 190.7, 193.0, 198.7, 251.9, 282.5, 286.1]
THREE_SYSTEMS = [
    [4.3, 4.4, 10.2, 23.5, 23.8, 26.4, 74.0, 77.1, 92.1, 197.2],
    [0.1, 5.6, 18.6, 19.5, 24.2, 26.7, 45.1, 45.8, 75.7, 79.7, 98.6, 120.1, 161.8, 180.6, 190.8],
    [8.4, 32.5, 44.7, 48.4, 50.6, 73.6, 98.7, 112.2, 129.8, 136.0, 195.8],
]


def systems(histories, end):
    unit = np.repeat(np.arange(len(histories)), [len(ages) for ages in histories])
    return unit, np.concatenate(histories), np.full(len(histories), float(end))


@pytest.mark.parametrize(("histories", "end", "shape", "scale", "tolerance"), [
    pytest.param([NIST], 1500, 0.537228866, None, 1e-9,
                 id="computed here on NIST/SEMATECH e-Handbook ch. 8, ten repairs"),
    pytest.param(THREE_SYSTEMS, 200, 0.615, 0.461, 6e-4,
                 id="Crow 1975, AMSAA Technical Report 138, three systems (from memory)"),
    pytest.param([HANDBOOK], 300, 0.716, 0.454, 6e-4,
                 id="MIL-HDBK-189 1981, 27 failures in 300 h (from memory)"),
])
def test_shape_and_scale_match(histories, end, shape, scale, tolerance):
    fit = fit_power_law(*systems(histories, end))
    assert_allclose(fit.shape, shape, atol=tolerance)
    if scale is not None:
        assert_allclose(fit.scale, scale, atol=tolerance)


def test_rate_at_the_end_matches_mil_hdbk_189_from_memory():
    fit = fit_power_law(*systems([HANDBOOK], 300))
    assert_allclose(fit.scale * fit.shape * 300 ** (fit.shape - 1), 0.0645, atol=6e-5)


def test_exact_bounds_of_the_shape_computed_here_on_three_systems():
    fit = fit_power_law(*systems(THREE_SYSTEMS, 200), confidence=0.95)
    assert_allclose([fit.shape_lower, fit.shape_upper], [0.4309739465, 0.8320119985], rtol=1e-9)


def test_time_between_repairs_at_the_end_matches_nist_chapter_8():
    sum_log = total_log(np.full(10, 1500.0), np.array(NIST)) / 2
    assert_allclose(1 - 9 / sum_log, 0.516494, atol=1e-6)
    assert_allclose(10 / 1500 ** (9 / sum_log), 0.2913003, atol=1e-7)
    middle, lower, upper = gap_at_end(10, sum_log, 1500.0, 0.80)
    assert_allclose(middle, 310.234, atol=1e-3)
    assert_allclose([lower, upper], [157.7138, 548.5566], atol=1e-4)


@pytest.mark.parametrize(("histories", "end", "statistic", "below"), [
    pytest.param([NIST], 1500, 37.22808148, 1 - 0.01098635712, id="computed here, NIST repairs"),
    pytest.param(THREE_SYSTEMS, 200, 117.0091957, 0.9993653746, id="computed here, three systems"),
])
def test_total_log_statistic_and_its_p_value(histories, end, statistic, below):
    unit, ages, ends = systems(histories, end)
    assert_allclose(total_log(ends[unit], ages), statistic, rtol=1e-9)
    found = total_log_trend(unit, ages, ends)
    assert_allclose(found.p_value, 2 * (1 - below), rtol=1e-6)
    assert_allclose(found.statistic, stats.norm.isf(below), rtol=1e-6)
    assert found.statistic < 0.0
    assert laplace_trend(unit, ages, ends).statistic < 0.0


def simulate(rng, shape, start, end, rates):
    """Return events of places with rates of their own and one shape, from the definition."""
    unit, ages = [], []
    for k, rate in enumerate(rates):
        for _ in range(rng.poisson(rate * (end[k] ** shape - start[k] ** shape))):
            share = rng.random()
            ages.append((start[k] ** shape + share * (end[k] ** shape - start[k] ** shape))
                        ** (1 / shape))
            unit.append(k)
    return np.array(unit, int), np.array(ages)


@pytest.mark.parametrize("late", [0.0, 0.6])
def test_bounds_hold_the_shape_as_often_as_they_say_with_places_of_unlike_rates(late):
    rng = np.random.default_rng(12)
    held = []
    for _ in range(300):
        end = rng.uniform(1.0, 3.0, 8)
        start = late * end * rng.random(8)
        unit, ages = simulate(rng, 1.4, start, end, rng.gamma(1.0, 2.0, 8))
        fit = fit_power_law(unit, ages, end, start_age=start)
        if fit.n_events >= 8 and np.isfinite(fit.shape_lower + fit.shape_upper):
            held.append(fit.shape_lower < 1.4 < fit.shape_upper)
    assert len(held) > 200
    assert 0.85 < np.mean(held) < 0.95


def test_late_starts_agree_with_the_likelihood_integrated_numerically():
    rng = np.random.default_rng(3)
    end = rng.uniform(2.0, 4.0, 5)
    start = 0.5 * end
    unit, ages = simulate(rng, 2.0, start, end, np.full(5, 3.0))

    def loss(log_shape):
        b = np.exp(log_shape)
        whole = [integrate.quad(lambda t: t ** (b - 1), start[k], end[k])[0] for k in range(5)]
        return -np.sum((b - 1) * np.log(ages) - np.log(whole)[unit])

    best = optimize.minimize_scalar(loss, bounds=(-3, 3), method="bounded", options={"xatol": 1e-9})
    fit = fit_power_law(unit, ages, end, start_age=start)
    assert_allclose(fit.shape, np.exp(best.x), rtol=1e-5)
    drop = 0.5 * stats.chi2.ppf(0.90, 1)
    assert_allclose([loss(np.log(edge)) for edge in (fit.shape_lower, fit.shape_upper)],
                    best.fun + drop, rtol=1e-6)


def test_unit_of_age_does_not_matter():
    unit, ages, end = systems(THREE_SYSTEMS, 200)
    days, years = fit_power_law(unit, ages, end), fit_power_law(unit, ages / 365, end / 365)
    assert_allclose([days.shape, days.shape_upper], [years.shape, years.shape_upper])
    assert_allclose(days.scale * 365**days.shape, years.scale)


def test_events_that_crowd_at_the_end_of_a_long_watch_have_a_shape_and_no_fault():
    """A year in days to such a power is no number."""
    fit = fit_power_law(range(30), np.full(30, 365.0), np.full(30, 366.0))
    assert fit.shape == pytest.approx(1.0 / np.log(366.0 / 365.0), rel=1e-9)
    assert fit.scale == 0.0
    years = fit_power_law(range(30), np.full(30, 365.0) / 366.0, np.ones(30))
    assert years.shape == pytest.approx(fit.shape, rel=1e-9)
    assert years.scale == pytest.approx(1.0)


def test_total_log_trend_keeps_its_level_and_sees_a_rise():
    rng = np.random.default_rng(8)
    unit = np.repeat(np.arange(5), 6)
    flat = [total_log_trend(unit, 2 + rng.uniform(0, 10, 30), np.full(5, 12.0),
                            start_age=2.0).p_value for _ in range(400)]
    assert 0.07 < np.mean(np.array(flat) < 0.10) < 0.13
    rising = total_log_trend(unit, 10 * np.sqrt(rng.random(30)), np.full(5, 10.0))
    assert rising.statistic > 2.0
    assert rising.p_value < 0.05


def test_too_few_events_give_no_estimate():
    fit = fit_power_law([0, 0], [1.0, 2.0], [3.0])
    assert np.isnan([fit.shape, fit.shape_lower, fit.scale]).all()
    assert fit.n_events == 2
    assert np.isnan(total_log_trend([0, 0], [1.0, 2.0], [3.0]).p_value)


def test_an_event_after_the_end_is_refused():
    with pytest.raises(FitError, match="must lie after the start"):
        fit_power_law([0] * 5, [1.0, 2.0, 3.0, 4.0, 9.0], [5.0])


def test_thinned_ages_are_a_part_of_all_ages():
    unit, ages, end = systems(THREE_SYSTEMS, 200)
    every, some = (mean_cumulative_function(unit, ages, end, most_ages=most) for most in (None, 7))
    assert some.age.size == 7
    at = np.searchsorted(every.age, some.age)
    assert {0, every.age.size - 1} <= set(at)
    for name in ("mean", "lower", "upper", "n_at_risk", "n_events"):
        assert_allclose(getattr(some, name), getattr(every, name)[at])
