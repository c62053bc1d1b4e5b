"""Draws of the regression on vibration against what is known of them without it."""

from dataclasses import replace

import numpy as np
import pytest

from etl.life.vibration.fit import fit_vibration
from etl.life.vibration.sampler import effective_size, sample_vibration
from etl.life.vibration.terms import PRIOR, Terms
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
