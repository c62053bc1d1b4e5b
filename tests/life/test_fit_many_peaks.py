"""Late entries with failures found at a check: several peaks, or a peak below an edge."""

import numpy as np
import pytest

from etl.life.fit import fit_strata

INF = np.inf
SHAPES = np.geomspace(0.05, 90.0, 60)


def hazard(age, shape, x):
    """Return hazard accumulated by some ages, one row an x: the log of it at age 1."""
    z = shape * np.log(np.where(age > 0.0, age, 1.0)) + x[:, None]
    return np.where(age > 0.0, np.exp(np.minimum(z, 700.0)), 0.0)


def greatest(entry, low, high, count):
    """Return the greatest log-likelihood at each of many shapes, by a search in the life alone.

    At a given shape it has one peak: it is concave in the log of the hazard.
    """
    seen, held = np.isfinite(high) & (high > low), np.isinf(high)
    exact = ~seen & ~held
    ages = np.log(np.r_[low[low > 0.0], high[~held]])

    def values(x, shape):
        at = np.where(exact, low, 1.0)
        value = np.where(exact, np.log(shape) + (shape - 1.0) * np.log(at) + x[:, None], 0.0)
        value = value - hazard(low, shape, x) + hazard(entry, shape, x)
        until = np.where(seen, high, low + 1.0)
        between = np.maximum(hazard(until, shape, x) - hazard(low, shape, x), 1e-300)
        return (value + np.where(seen, np.log(-np.expm1(-between)), 0.0)) @ count

    found = []
    for shape in SHAPES:
        x = np.linspace(-shape * ages.max() - 12.0, -shape * ages.min() + 12.0, 200)
        for _ in range(8):
            best = int(np.argmax(values(x, shape)))
            x = np.linspace(x[max(best - 1, 0)], x[min(best + 1, x.size - 1)], 30)
        found.append(values(x, shape).max())
    return np.array(found)


def columns(rows):
    return tuple(np.array(column, float) for column in zip(*rows, strict=True))


@pytest.mark.parametrize(("rows", "status", "end"), [
    pytest.param([(168, 168, 308, 1), (87, 120, 227, 1), (60, 60, 125, 1)], "shape_not_estimable",
                 -1, id="a peak below an edge: any steeper shape about 122 fits all three better"),
    pytest.param([(39, 324, INF, 3), (0, 703, INF, 1), (0, 481, INF, 1), (0, 645, INF, 1),
                  (0, 0, 540, 1)], "no_finite_estimate", 0,
                 id="a peak below an edge: found failed early, survivors late"),
])
def test_a_peak_below_an_edge_is_no_estimate(rows, status, end):
    lives = columns(rows)
    by_shape = greatest(*lives)
    slope = np.sign(np.diff(by_shape))
    assert ((slope[:-1] > 0) & (slope[1:] < 0)).any()  # there is a peak,
    assert by_shape[end] == by_shape.max()  # and the edge lies higher
    assert fit_strata(np.zeros(len(rows), int), *lives, 1).status == [status]


def few_late_lives(seed, n_strata):
    """Yield entry, low, high and count of strata of a few lives, most of them late or found."""
    rng = np.random.default_rng(seed)
    for _ in range(n_strata):
        n = int(rng.integers(2, 9))
        age = 100.0 * rng.weibull(np.exp(rng.normal(0.2, 0.7)), n)
        entry = np.where(rng.random(n) < rng.choice([0.3, 0.7, 1.0]), age * rng.random(n), 0.0)
        failed = rng.random(n) < rng.choice([0.2, 0.5, 1.0])
        seen = failed & (rng.random(n) < rng.choice([0.5, 1.0]))
        opened = np.maximum(np.where(rng.random(n) < 0.4, 0.0, age * rng.random(n)), entry)
        high = np.where(seen, age * (1.0 + rng.random(n)), np.where(failed, age, INF))
        yield entry, np.where(seen, opened, age), high, np.ones(n)


@pytest.mark.slow
def test_no_estimate_of_few_late_lives_lies_below_another_peak():
    lives = list(few_late_lives(5, 60))
    key = np.repeat(np.arange(60), [each[0].size for each in lives])
    fit = fit_strata(key, *(np.concatenate(column) for column in zip(*lives, strict=True)), 60)
    for k in np.flatnonzero(fit.has_estimate):
        assert fit.log_likelihood[k] >= greatest(*lives[k]).max() - 1e-6, k
