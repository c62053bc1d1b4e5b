"""What must hold for any lives: cut in two, counted, turned about, watched for longer."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from etl.life.bounds import likelihood_ratio_bounds
from etl.life.cell_law import CellLaw
from etl.life.curves import exposure_curves
from etl.life.fit import fit_arranged, fit_strata
from etl.life.fixed_shape import life_at_shape
from etl.life.log_rank import log_rank
from etl.life.plotting import plot_points
from etl.life.renewal import DAYS_A_MONTH, forecast_places
from etl.life.renewal_grid import renewal_function, steps_of
from etl.life.strata import arrange_strata
from tests.life.strata_maker import make_lives

SEEDS = st.integers(0, 10**6)
KINDS = st.sampled_from([(0.0, 0.0), (0.4, 0.0), (0.0, 0.5), (0.3, 0.4)])


def cut_in_two(lives, share):
    """Return lives with some cut at an age into one suspended there and one entering there."""
    stratum, entry, low, high, count, n = lives
    rng = np.random.default_rng(1)
    cut = entry + (low - entry) * rng.random(low.size)
    is_cut = (rng.random(low.size) < share) & (cut > entry) & (cut < low)
    again = np.flatnonzero(is_cut)
    return (np.r_[stratum, stratum[again]], np.r_[np.where(is_cut, cut, entry), entry[again]],
            np.r_[low, cut[again]], np.r_[high, np.full(again.size, np.inf)],
            np.r_[count, count[again]], n)


@settings(max_examples=15, deadline=None, derandomize=True)
@given(seed=SEEDS, kind=KINDS)
def test_a_life_cut_in_two_says_the_same(seed, kind):
    lives = make_lives(seed, 4, 30, *kind)
    parts = cut_in_two(lives, 0.6)
    assert parts[0].size > lives[0].size
    one, two = fit_strata(*lives), fit_strata(*parts)
    ok = one.has_estimate
    assert two.has_estimate.tolist() == ok.tolist()
    assert_allclose(two.shape[ok], one.shape[ok], rtol=1e-7)
    assert_allclose(two.characteristic_life[ok], one.characteristic_life[ok], rtol=1e-7)
    assert_allclose(two.log_likelihood[ok], one.log_likelihood[ok], rtol=1e-9)
    whole, cut = (exposure_curves(part[0], part[2], part[1], part[4], 4) for part in (lives, parts))
    assert_allclose(cut.s0, whole.s0, rtol=1e-9)


@settings(max_examples=15, deadline=None, derandomize=True)
@given(seed=SEEDS, late=st.sampled_from([0.0, 0.4]))
def test_cutting_lives_leaves_product_limit_and_log_rank_alone(seed, late):
    lives = make_lives(seed, 2, 25, late)
    parts = cut_in_two(lives, 0.5)
    assert_allclose(plot_points(*parts).survival, plot_points(*lives).survival, rtol=1e-9)
    assert_allclose(log_rank(*parts[:5], 0, 1).statistic, log_rank(*lives[:5], 0, 1).statistic,
                    rtol=1e-9)


@settings(max_examples=15, deadline=None, derandomize=True)
@given(seed=SEEDS, kind=KINDS)
def test_order_of_rows_does_not_matter_to_curves_points_and_log_rank(seed, kind):
    lives = make_lives(seed, 3, 25, *kind)
    order = np.random.default_rng(seed).permutation(lives[0].size)
    turned = (*(column[order] for column in lives[:5]), lives[5])
    one, two = (exposure_curves(part[0], part[2], part[1], part[4], 3) for part in (lives, turned))
    for name in ("s0", "s1", "s2", "centre"):
        assert_allclose(getattr(two, name), getattr(one, name), rtol=1e-11)
    assert_allclose(plot_points(*turned).survival, plot_points(*lives).survival, rtol=1e-12)
    assert_allclose(log_rank(*turned[:5], [0, 1], [2, 2]).statistic,
                    log_rank(*lives[:5], [0, 1], [2, 2]).statistic, rtol=1e-9)


@settings(max_examples=15, deadline=None, derandomize=True)
@given(seed=SEEDS, kind=KINDS, shape=st.floats(0.4, 6.0),
       levels=st.lists(st.floats(0.05, 0.995), min_size=2, max_size=4, unique=True))
def test_bounds_widen_with_confidence(seed, kind, shape, levels):
    strata = arrange_strata(*make_lives(seed, 3, 15, *kind))
    fit = fit_arranged(strata)
    ok, before = fit.has_estimate, None
    for confidence in sorted(levels):
        given_shape = life_at_shape(strata, shape, confidence)
        free = likelihood_ratio_bounds(strata, fit, confidence)
        found = [(given_shape.lower, given_shape.upper),
                 *((part.lower[ok], part.upper[ok]) for part in (
                     free.shape, free.characteristic_life, free.b_life))]
        for k, (lower, upper) in enumerate(found):
            assert np.all(lower <= upper)
            if before is not None:
                assert np.all(lower <= before[k][0] * (1 + 1e-9))
                assert np.all(upper >= before[k][1] * (1 - 1e-9))
        before = found


def place_forecast(law, age):
    rate = np.ones((age.size, 1), np.float32)
    blocks = list(forecast_places(law, np.arange(age.size), age, rate))
    return np.concatenate([block.expected[:, 0] for block in blocks]).astype(float)


@settings(max_examples=10, deadline=None, derandomize=True)
@given(shape=st.floats(0.8, 4.0), life=st.floats(150.0, 3000.0), age=st.floats(10.0, 1500.0))
def test_forecasts_add_up_over_windows(shape, life, age):
    """A year is its first half and, at the ages that the hoses then have, its second half."""
    law = CellLaw(np.full((1, 1), shape, np.float32), np.full((1, 1), np.log(life), np.float32))
    half = 6 * DAYS_A_MONTH
    step = half / 300
    middles = (np.arange(300) + 0.5) * step  # age at half-year of a hose fitted in each step
    expected = place_forecast(law, np.r_[0.0, age, age + half, half - middles])
    ends = np.arange(301) * step
    new = ((ends / law_life(law)) ** shape)[:, None]
    old = (((age + ends) / law_life(law)) ** shape - (age / law_life(law)) ** shape)[:, None]
    renewals, present = renewal_function(steps_of(new)), steps_of(old)
    failed = np.diff(np.r_[0.0, present.failed[:, 0]])
    # failures per step of the place: the present hose's, then those of each successor
    in_step = failed.copy()
    gain = np.diff(np.r_[0.0, renewals[:, 0]])
    in_step += np.convolve(failed, gain)[:300]
    alive = np.exp(-(((half - middles) / law_life(law)) ** shape))
    later = np.exp(-old[-1, 0]) * expected[2, 5] + (in_step * alive) @ expected[3:, 5]
    assert expected[1, 11] == pytest.approx(expected[1, 5] + later, rel=2e-3)


def law_life(law):
    return float(np.exp(law.log_life[0, 0]))
