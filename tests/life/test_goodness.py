"""Distances from the Weibull against scipy, quadrature and published critical values."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy import integrate, stats

from etl.life.fit import fit_strata
from etl.life.goodness import departure_of, goodness_of_fit
from etl.life.simulate import SeenLives, simulated, watching_of
from etl.life.streams import Streams
from tests.life.strata_maker import make_lives
from tests.published.lives_data import published


def streams(n):
    return Streams(2, [f"stratum {k}" for k in range(n)])


def fitted(lives):
    return SeenLives(*lives[:5]).one_by_one(), fit_strata(*lives)


@pytest.mark.parametrize("name", ["lz_bearings", "bury_17_2_rupture", "rinne_1"])
def test_complete_lives_have_the_textbook_statistics(name):
    lives = published(name).one_by_one()
    found = departure_of(*fitted(lives.arguments()))
    fit = fit_strata(*lives.arguments())
    ages = np.sort(lives.low)
    n, i = ages.size, np.arange(1, ages.size + 1)
    share = stats.weibull_min.cdf(ages, fit.shape[0], scale=fit.characteristic_life[0])
    book = -n - np.mean((2 * i - 1) * (np.log(share) + np.log1p(-share[::-1])))
    assert_allclose(found.anderson_darling, [book], rtol=1e-9)
    # minus the log of a Weibull age is Gumbel: scipy fits and measures that by itself
    other = stats.goodness_of_fit(stats.gumbel_l, np.log(ages), statistic="ad", n_mc_samples=1)
    assert_allclose(found.anderson_darling, [other.statistic], rtol=1e-3)
    positions = (i - 0.3) / (n + 0.4)
    line = stats.linregress(np.log(ages), np.log(-np.log1p(-positions)))
    assert_allclose(found.correlation, [line.rvalue], rtol=1e-9)


@pytest.mark.parametrize("name", ["shock_absorber", "diesel_fan", "nist_8413", "abernethy_c5"])
def test_suspended_lives_have_the_integral_up_to_the_last_age_watched(name):
    lives = published(name).one_by_one()
    found = departure_of(*fitted(lives.arguments()))
    fit = fit_strata(*lives.arguments())
    held = np.isinf(lives.high)
    free = stats.ecdf(stats.CensoredData(uncensored=lives.low[~held], right=lives.low[held]))
    failed = np.unique(lives.low[~held])
    law = stats.weibull_min(fit.shape[0], scale=fit.characteristic_life[0])
    top = lives.low.max()
    steps = [0.0, *law.cdf(failed), law.cdf(top) if held[lives.low == top].any() else 1.0]
    total = 0.0
    for low, high, age in zip(steps[:-1], steps[1:], [0.0, *failed], strict=True):
        share = free.cdf.evaluate(age) if age else 0.0
        total += integrate.quad(
            lambda f, c=share: (c - f) ** 2 / (f * (1 - f)), low, high, epsabs=1e-10)[0]
    assert_allclose(found.anderson_darling, [lives.low.size * total], rtol=1e-6)


# Stephens (1977), Biometrika 64, as given by scipy.stats.anderson for the Gumbel law.
@pytest.mark.parametrize("n_lives", [20, 60])
def test_complete_lives_scatter_as_the_published_critical_values_say(n_lives):
    critical = {0.10: 0.637, 0.05: 0.757, 0.01: 1.038}
    lives = SeenLives(*make_lives(3, 1, n_lives)[:2], *np.full((2, n_lives), 1.0),
                      np.ones(n_lives))
    sets = 6000
    drawn = simulated(watching_of(lives, 1), np.array([1.7]), np.array([900.0]), sets,
                      Streams(4, [""]))
    fit = fit_strata(drawn.stratum, drawn.entry, drawn.low, drawn.high, drawn.count, sets)
    distance = departure_of(drawn, fit).anderson_darling * (1.0 + 0.2 / np.sqrt(n_lives))
    for level, value in critical.items():
        share = np.mean(distance > value)
        assert abs(share - level) < 4.0 * np.sqrt(level / sets) + 0.1 * level


def looked_at(lives, share):
    """Return lives of which a share of the failures is found at a look of their own."""
    stratum, entry, low, high, count, n = lives
    rng = np.random.default_rng(17)
    found = (low == high) & (rng.random(low.size) < share)
    length = 0.3 * np.bincount(stratum, low, n)[stratum] / np.bincount(stratum)[stratum]
    opened = low - rng.random(low.size) * length
    return (stratum, entry, np.where(found, np.maximum(opened, entry), low),
            np.where(found, opened + length, high), count, n)


@pytest.mark.parametrize(("late", "interval"), [(0.0, 0.0), (0.4, 0.0), (0.3, 0.5)])
def test_p_values_of_weibull_lives_are_even(late, interval):
    lives = looked_at(make_lives(31, 300, 40, late, 0.0, (0.8, 3.0)), interval)
    each, fit = fitted(lives)
    found = goodness_of_fit(each, fit, np.ones(300, bool), streams(300))
    for p in (found.anderson_darling_p, found.correlation_p):
        p = p[np.isfinite(p)]
        assert p.size > 290
        for level in (0.05, 0.1, 0.5):
            assert abs(np.mean(p <= level) - level) < 4.0 * np.sqrt(level * (1 - level) / p.size)


def test_lives_of_two_populations_are_found_out():
    rng = np.random.default_rng(12)
    n = 40
    early = rng.random((n, 60)) < 0.3
    ages = np.where(early, 100.0, 2000.0) * rng.weibull(np.where(early, 1.2, 4.0))
    stop = rng.uniform(1000.0, 3000.0, ages.shape)
    seen = ages <= stop
    lives = (np.repeat(np.arange(n), 60), np.zeros(ages.size), np.minimum(ages, stop).ravel(),
             np.where(seen, ages, np.inf).ravel(), np.ones(ages.size), n)
    each, fit = fitted(lives)
    found = goodness_of_fit(each, fit, np.ones(n, bool), streams(n))
    assert np.mean(found.anderson_darling_p <= 0.05) > 0.8
    assert np.mean(found.correlation_p <= 0.05) > 0.6
    assert_array_equal(found.n_simulated[found.anderson_darling_p <= 0.05] >= 90, True)


def test_strata_not_wanted_or_without_a_fit_have_no_p_value():
    lives = make_lives(5, 4, 30)
    columns = [np.asarray(column) for column in lives[:5]]
    mine = columns[0] == 3
    columns[3] = np.where(mine, np.inf, columns[3])
    each, fit = fitted((*columns, 4))
    found = goodness_of_fit(each, fit, np.array([True, False, True, True]), streams(4))
    assert_array_equal(np.isnan(found.anderson_darling_p), [False, True, False, True])
    assert_array_equal(found.n_simulated > 0, [True, False, True, False])
    again = goodness_of_fit(each, fit, np.array([True, False, True, True]), streams(4))
    assert_array_equal(found.anderson_darling_p, again.anderson_darling_p)


def test_the_unit_of_the_ages_does_not_matter():
    lives = make_lives(6, 5, 50, 0.3)
    one = departure_of(*fitted(lives))
    two = departure_of(*fitted((lives[0], *(1e3 * column for column in lives[1:4]), *lives[4:])))
    assert_allclose(two.anderson_darling, one.anderson_darling, rtol=1e-7)
    assert_allclose(two.correlation, one.correlation, rtol=1e-9)


def test_lives_read_out_at_common_ages_are_not_judged():
    """R survival, data set cracks: 167 parts looked at on the same eight days."""
    lives = published("nelson_cracks")
    found = goodness_of_fit(*fitted(lives.arguments()), np.array([True]), streams(1))
    assert np.isnan(found.anderson_darling_p[0])


def test_a_stratum_is_judged_alike_whatever_lies_beside_it():
    """Other strata come, go and grow; blocks of replicates are cut elsewhere."""
    lives = looked_at(make_lives(32, 6, 40, 0.3, 0.0, (0.8, 3.0)), 0.4)
    more = looked_at(make_lives(33, 8, 90, 0.5, 0.0, (0.8, 3.0)), 0.6)
    each, fit = fitted(lives)
    found = goodness_of_fit(each, fit, np.ones(6, bool), Streams(2, list("abcdef")))
    beside, both = fitted((*(np.concatenate([a, b]) for a, b in zip(
        (more[0], *more[1:5]), (lives[0] + 8, *lives[1:5]), strict=True)), 14))
    again = goodness_of_fit(beside, both, np.ones(14, bool), Streams(2, list("ghijklmnabcdef")))
    assert_array_equal(again.anderson_darling_p[8:], found.anderson_darling_p)
    assert_array_equal(again.correlation_p[8:], found.correlation_p)
    assert_array_equal(again.n_simulated[8:], found.n_simulated)
