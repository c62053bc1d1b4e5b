"""Draws of the regression on vibration against what is known of them without it."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from etl.life.vibration.fit import fit_vibration
from etl.life.vibration.marginal import Marginal
from etl.life.vibration.sampler import Walker, effective_size, sample_vibration
from etl.life.vibration.terms import PRIOR, Terms
from etl.life.vibration.unknown_ends import UnknownEnds
from tests.bench.vibration_world import World, make


@pytest.mark.parametrize("again", [0.0, 0.6], ids=["independent", "six tenths kept"])
def test_effective_size_of_an_autoregressive_chain(again):
    """Theory of a first-order chain: n (1 - r) / (1 + r), any textbook of time series."""
    rng = np.random.default_rng(3)
    noise = rng.standard_normal((20_000, 4))
    chain = noise.copy()
    for number in range(1, chain.shape[0]):
        chain[number] += again * chain[number - 1]
    found = effective_size(chain)
    assert found == pytest.approx(20_000 * (1 - again) / (1 + again), rel=0.15)
    assert (found <= 20_000).all()


def test_where_nothing_failed_the_draws_are_the_prior():
    data = make(World(n_places=4, n_constructions=3, n_groups=1, measured=1.0), 2)[0]
    blank = replace(data, failure=np.zeros_like(data.failure), high=np.full_like(data.low, np.inf),
                    low=np.full_like(data.low, 1e-3), entry=np.zeros_like(data.entry))
    terms = Terms(3, 1, 0, has_resonance=True)
    fit = fit_vibration(blank, terms)
    drawn = sample_vibration(blank, fit, 600, 1).draws
    for name in ("resonance", "exponent", "log_shape"):
        mean, sd = PRIOR[name]
        values = drawn.common(name)
        assert values.mean() == pytest.approx(mean, abs=0.3 * sd)
        assert values.std() == pytest.approx(sd, rel=0.25)


def test_the_same_seed_gives_the_same_draws():
    data = make(World(n_places=30, n_constructions=3), 5)[0]
    fit = fit_vibration(data, Terms(3, 4, 0))
    one, two, other = (sample_vibration(data, fit, 10, seed).draws.theta for seed in (1, 1, 2))
    assert (one == two).all()
    assert not (one == other).all()


def test_unknown_ends_are_drawn_as_often_as_all_their_ways_together_weigh():
    """Every way in which the ends may have come about, weighed by the whole likelihood."""
    data = make(World(n_places=5, n_constructions=2, n_groups=1, measured=1.0, life=900.0), 4)[0]
    unknown = np.flatnonzero(data.failure > 0)[[0, 1, 4]]
    rival = np.zeros_like(data.low)
    rival[unknown] = [2e-3, 5e-4, 1e-3]
    data = replace(data, rival=rival)
    terms = Terms(2, 1, 0, has_resonance=True)
    fit = fit_vibration(data, terms)
    ends = UnknownEnds(data, terms, fit.pairs, fit.nodes)
    whole, ways = Marginal(terms, data, ends.pairs, fit.nodes), list(product([0, 1], repeat=3))
    weight = []
    for way in ways:
        failed = np.array(way, float)
        for name, known, value in (("n_failures", ends.n_known, failed),
                                   ("sum_log_age", ends.sum_known, failed * ends.log_age)):
            getattr(ends.pairs, name)[:] = known + np.bincount(ends.of_pair, value,
                                                               ends.pairs.size)
        whole.recount()
        weight.append(whole.value(fit.theta) + float((1.0 - failed) @ ends.log_rival))
    exact = np.exp(np.array(weight) - max(weight))
    exact /= exact.sum()
    rng, n, seen = np.random.default_rng(6), 6000, np.zeros(3)
    together = 0.0
    for _ in range(n):
        ends.draw(fit.theta, rng)
        more = (ends.pairs.n_failures - ends.n_known)
        seen += [more[pair] / (ends.of_pair == pair).sum() for pair in ends.of_pair]
        together += more.sum() == 3
    share = np.array(ways, float).T @ exact
    by_pair = [share[ends.of_pair == pair].mean() for pair in ends.of_pair]
    assert seen / n == pytest.approx(np.array(by_pair), abs=0.025)
    assert together / n == pytest.approx(exact[-1], abs=0.025)
    assert 0.05 < exact[-1] < 0.95


def test_walks_count_whole_hoses_where_the_mode_counts_shares():
    world = World(n_places=60, n_constructions=2, n_groups=1, measured=1.0, history_years=8.0,
                  dated=1.0, life=1500.0)
    data = make(world, 8)[0]
    assert 0.1 < (data.rival > 0).mean() < 0.9
    fit = fit_vibration(data, Terms(2, 1, 0, has_resonance=True))
    assert (fit.pairs.n_failures % 1.0 > 0.01).any()
    walker, rng = Walker(data, fit), np.random.default_rng(2)
    counted = []
    for _ in range(200):
        walker.reconsider(rng)
        counted.append(walker.ends.pairs.n_failures.copy())
    assert walker.seen[0] == pytest.approx(
        Marginal(fit.terms, data, walker.ends.pairs, fit.nodes).value(fit.theta))
    assert (np.array(counted) % 1.0 == 0.0).all()
    assert np.sum(counted, axis=1).mean() == pytest.approx(fit.pairs.n_failures.sum(), rel=0.03)
