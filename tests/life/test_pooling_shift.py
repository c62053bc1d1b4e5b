"""Level shifts leave their target alone: exact normal case, and a skewed one by quadrature."""

import numpy as np
from numpy.testing import assert_allclose

from etl.life.pooling.shift import LevelShift

VARIANCE = np.array([0.5, 2.0])


def chain(state, information, start, n=6000, seed=2):
    """Return the visited effects of two levels with strata 0, 1 and 2 in levels 0, 0 and 1."""
    level = np.array([0, 0, 1])
    shift = LevelShift(level, 2, information)
    rng = np.random.default_rng(seed)
    y, effect, now = start.copy(), np.zeros((2, 2)), state(start)
    seen = np.empty((n, 2, 2))
    for step in range(n):
        y, effect, now = shift.move(y, effect, VARIANCE, now, state, rng)
        seen[step] = effect
    assert_allclose(y, start + effect[level])  # strata move with their level, to the last digit
    return seen[100:]


def test_normal_likelihood_gives_the_conjugate_posterior():
    data = np.array([[0.4, 1.0], [0.8, -0.5], [-1.0, 2.0]])
    weight = np.array([4.0, 1.5])

    def state(y):
        return -0.5 * (weight * (data - y) ** 2).sum(axis=1), weight * (data - y)

    seen = chain(state, np.tile(np.diag(weight), (3, 1, 1)), np.zeros((3, 2)))
    total = np.array([data[:2].sum(axis=0), data[2]]) * weight
    precision = np.array([2 * weight, weight]) + 1 / VARIANCE
    assert_allclose(seen.mean(axis=0), total / precision, atol=0.03)
    assert_allclose(seen.var(axis=0), 1 / precision, rtol=0.06)


def test_skewed_likelihood_agrees_with_quadrature():
    """Second coordinate: log likelihood 2 y - exp(y), as of a hazard with two failures."""
    def state(y):
        slope = np.column_stack([-y[:, 0], 2.0 - np.exp(y[:, 1])])
        return -0.5 * y[:, 0] ** 2 + 2.0 * y[:, 1] - np.exp(y[:, 1]), slope

    information = np.tile(np.diag([1.0, 2.0]), (3, 1, 1))
    seen = chain(state, information, np.zeros((3, 2)), n=12_000)[:, 1, 1]
    x = np.linspace(-8.0, 5.0, 4001)
    weight = np.exp(2.0 * x - np.exp(x) - 0.5 * x**2 / VARIANCE[1])
    weight /= weight.sum()
    mean = weight @ x
    assert_allclose(seen.mean(), mean, atol=0.03)
    assert_allclose(seen.std(), np.sqrt(weight @ (x - mean) ** 2), rtol=0.06)
    assert_allclose(np.quantile(seen, 0.05), x[np.searchsorted(weight.cumsum(), 0.05)], atol=0.1)
