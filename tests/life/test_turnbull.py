"""Survival without a law against published shares, two libraries and its own optimality."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from etl.errors import FitError
from etl.life.turnbull import free_survival
from tests.life.strata_maker import make_lives
from tests.published.lives_data import published

# Months to retraction after radiotherapy, 46 women; data and estimate (R package interval) from
# memory: that one gives the other to four digits speaks for both.
RETRACTION = (
    "45- 6-10 0-7 46- 46- 7-16 17- 7-14 37-44 0-8 4-11 15- 11-15 22- 46- 46- 25-37 46- 26-40 46- "
    "27-34 36-44 46- 36-48 37- 40- 17-25 46- 11-18 38- 5-12 37- 0-5 18- 24- 36- 5-11 19-35 17-25 "
    "24- 32- 33- 19-26 37- 34- 36-")
SHARES = {(4, 5): 0.0463, (6, 7): 0.0334, (7, 8): 0.0887, (11, 12): 0.0708, (24, 25): 0.0926,
          (33, 34): 0.0818, (38, 40): 0.1209, (46, 48): 0.4656}


def estimated(lives):
    return free_survival(lives.entry, lives.low, lives.high, lives.count)


@pytest.mark.parametrize("text", [pytest.param(
    RETRACTION, id="Finkelstein and Wolfe (1985), Biometrics 41, from memory")])
def test_shares_of_lives_found_failed_are_the_published_ones(text):
    ends = [life.split("-") for life in text.split()]
    low, high = np.array([[float(a), float(b or np.inf)] for a, b in ends]).T
    found = free_survival(np.zeros(low.size), low, high, np.ones(low.size))
    kept = found.share > 1e-6
    spans = {(int(a), int(b)): share for a, b, share in zip(
        found.start[kept], found.end[kept], found.share[kept], strict=True)}
    assert spans == pytest.approx(SHARES, abs=6e-5)
    assert found.is_settled


# NIST/SEMATECH e-Handbook of Statistical Methods, section 8.2.1.5.
def test_lives_seen_failed_have_the_product_limit_estimate():
    found = estimated(published("nist_8215"))
    ages = [9.9, 10.0, 32.0, 56.0, 98.0, 122.0, 181.0, 199.0]
    lower, upper = found.survival(ages)
    assert_allclose(lower, upper)
    expected = np.cumprod([1, 19 / 20, 18 / 19, 16 / 17, 15 / 16, 13 / 14, 10 / 11, 1])
    assert_allclose(lower, expected, atol=1e-9)


@pytest.mark.parametrize("name", ["channing_house", "shock_absorber"])
def test_lifelines_gives_the_same_survival(name):
    from lifelines import KaplanMeierFitter
    lives = published(name)
    if name == "channing_house":
        lives = lives.only(lives.group == "female")
    found = estimated(lives)
    is_failed = np.isfinite(lives.high)
    ages = np.unique(lives.low[is_failed])
    other = KaplanMeierFitter().fit(lives.low, is_failed, weights=lives.count,
                                    entry=lives.entry if lives.entry.any() else None)
    expected = other.survival_function_at_times(ages)
    assert_allclose(found.survival(ages)[0], expected, atol=1e-5)


def test_parts_all_looked_at_on_the_same_days_are_simply_counted():
    """R survival, data set cracks: 167 parts, eight looks, none withdrawn."""
    lives = published("nelson_cracks")
    found = estimated(lives)
    is_failed = np.isfinite(lives.high)
    order = np.argsort(lives.high[is_failed])
    left = 1.0 - np.cumsum(lives.count[is_failed][order]) / lives.count.sum()
    assert_allclose(found.survival(np.sort(lives.high[is_failed]))[0], left, atol=1e-8)


@pytest.mark.parametrize(("late", "interval"), [(0.0, 0.5), (0.0, 1.0), (0.3, 0.5)])
def test_surpyval_reaches_no_greater_likelihood_and_the_same_curve(late, interval):
    import surpyval
    _, entry, low, high, count, _ = make_lives(41, 1, 60, late, interval)
    found = free_survival(entry, low, high, count)
    assert found.is_settled
    with np.errstate(all="ignore"):
        other = surpyval.Turnbull.fit(
            xl=low, xr=high, tl=entry if late else None, turnbull_estimator="Kaplan-Meier",
            tol=1e-12, max_iter=20_000)
    ages = np.quantile(low, [0.2, 0.4, 0.6, 0.8])
    lower, upper = found.survival(ages)
    theirs = other.sf(ages)
    assert np.all((theirs > lower - 2e-3) & (theirs < upper + 2e-3))


@pytest.mark.parametrize(("late", "interval"), [(0.0, 0.6), (0.4, 0.0), (0.3, 0.6)])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_shift_of_any_share_raises_the_likelihood(seed, late, interval):
    _, entry, low, high, count, _ = make_lives(seed, 1, 80, late, interval)
    found = free_survival(entry, low, high, count)
    assert_allclose(found.share.sum(), 1.0)

    def value(share):
        total = 0.0
        for e, a, b in zip(entry, low, high, strict=True):
            may = (found.start >= a) & (found.end <= b)
            seen = (found.start >= e) & ~((found.start == found.end) & (found.start == e))
            if np.isinf(b) or a < b:
                may &= ~((found.start == found.end) & (found.start == a))
            total += np.log(share[may].sum()) - np.log(share[seen].sum())
        return total

    best = value(found.share)
    assert best == pytest.approx(found.log_likelihood, abs=1e-6)
    for j in range(found.share.size):
        moved = 0.999 * found.share
        moved[j] += 0.001
        assert value(moved) <= best + 1e-6


def test_within_a_span_survival_is_known_only_between_its_ends():
    found = free_survival([0.0] * 2, [0.0, 10.0], [10.0, np.inf], [3.0, 1.0])
    lower, upper = found.survival([0.0, 5.0, 10.0, 50.0])
    assert_allclose(lower, [1.0, 0.25, 0.25, 0.0], atol=1e-8)
    assert_allclose(upper, [1.0, 1.0, 0.25, 0.25], atol=1e-8)


@pytest.mark.parametrize("lives", [
    ([], [], [], []), ([5.0], [3.0], [3.0], [1.0]), ([0.0], [3.0], [2.0], [1.0]),
    ([0.0], [3.0], [3.0], [0.0])])
def test_impossible_lives_are_refused(lives):
    with pytest.raises(FitError, match="must end after they began"):
        free_survival(*lives)
