"""What others lead one to expect of a stratum, against what was seen there."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from etl.life.pooling.elsewhere import surprise
from etl.life.pooling.pool import pool_strata
from tests.life.test_pooling import world


@pytest.mark.parametrize("mean", [0.3, 2.0, 40.0])
def test_surprise_at_a_known_rate_is_the_mid_p_value_of_scipy(mean):
    seen = np.arange(60.0)
    law = stats.poisson(mean)
    middle = law.cdf(seen) - 0.5 * law.pmf(seen)
    expected = np.minimum(1.0, 2.0 * np.minimum(middle, 1.0 - middle))
    assert surprise(seen, np.full((3, 60), mean)) == pytest.approx(expected, abs=1e-12)


def test_surprise_at_a_gamma_rate_is_that_of_the_negative_binomial():
    rate = stats.gamma(2.5, scale=3.0).ppf((np.arange(4000) + 0.5) / 4000)
    law = stats.nbinom(2.5, 1.0 / 4.0)
    for seen in (0, 3, 30):
        middle = law.cdf(seen) - 0.5 * law.pmf(seen)
        assert surprise(np.array([float(seen)]), rate[:, None])[0] == pytest.approx(
            2.0 * min(middle, 1.0 - middle), rel=2e-3)


def test_strata_that_are_alike_seldom_surprise():
    found = []
    for seed in range(2):
        elsewhere = pool_strata(world(seed)[0], n_draws=50, seed=seed).elsewhere
        found.append(surprise(elsewhere.seen, elsewhere.expected))
    share = np.mean(np.concatenate(found) < 0.10)
    assert 0.0 < share < 0.13


@pytest.mark.parametrize(("factor", "way"), [(6.0, 1), (0.0, -1)])
def test_a_stratum_unlike_all_others_is_told_and_the_others_are_not(factor, way):
    data, *_ = world(2, n_lives=(60, 120))
    odd = int(np.argmax(data.n_exact))
    count, total = data.n_exact.copy(), data.sum_log_age.copy()
    count[odd], total[odd] = round(factor * count[odd]), factor * total[odd]
    changed = replace(data, n_exact=count, sum_log_age=total)
    elsewhere = pool_strata(changed, n_draws=50, seed=1).elsewhere
    found = surprise(elsewhere.seen, elsewhere.expected)
    assert found[odd] == found.min()
    assert found[odd] < 0.02
    assert np.sign(elsewhere.seen[odd] - np.median(elsewhere.expected[:, odd])) == way
    assert np.mean(np.delete(found, odd) < 0.02) < 0.05


def test_expectations_move_no_draw(monkeypatch):
    data, *_ = world(1, n_classes=3, n_constructions=2)
    with_it = pool_strata(data, n_draws=20, seed=4)
    monkeypatch.setattr("etl.life.pooling.elsewhere.STREAM", 72)
    other = pool_strata(data, n_draws=20, seed=4)
    assert np.array_equal(with_it.log_life, other.log_life)
    assert not np.array_equal(with_it.elsewhere.expected, other.elsewhere.expected)
