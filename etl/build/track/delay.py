"""Forecasts of an earlier month, corrected for failures that its logs did not hold yet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from etl.build.lives import Lives
from etl.build.removals import Removal
from etl.build.strata import Strata
from etl.build.track.laws import Present, cell_law
from etl.life.pooling.pool import PooledDraws
from etl.life.renewal import PlaceForecast, forecast_places
from etl.life.reporting_delay import exposure_ages, starts

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

MOST_MONTHS = 12
"""Delay by which all failures are taken as recorded: later ones are corrections, not delays."""
LOOK_BACK = 24
"""Months of failures that tell how late records come."""


def watched_lives(lives: Lives, present: Present, share: Floats) -> Lives:
    """Return the lives with those of hoses in service cut to what has surely been watched.

    Parameters
    ----------
    lives : Lives
        The hose in service at a place is the suspension there of its age.
    present : Present
    share : ndarray, shape (k,)
        From `etl.life.reporting_delay.recorded_share`.
    """
    if share.size == 1:
        return lives
    is_open = (lives.mechanism == -1) & (lives.cell == present.cell[lives.place]) & (
        lives.low == present.age[lives.place])
    age, weight = exposure_ages(lives.low[is_open], share)
    row = np.flatnonzero(is_open).repeat(weight.size)
    low, count = age.ravel(), np.tile(weight, int(is_open.sum()))
    kept = low > lives.entry[row]
    whole = lives.count.copy()
    whole[is_open] -= 1.0
    old = whole > 0.0

    def joined(name: str) -> Any:
        values = getattr(lives, name)
        return np.concatenate([values[old], values[row][kept]])

    return replace(
        lives, cell=joined("cell"), entry=joined("entry"), high=joined("high"),
        mechanism=joined("mechanism"), place=joined("place"),
        low=np.concatenate([lives.low[old], low[kept]]),
        count=np.concatenate([whole[old], count[kept]]))


def late_forecasts(
    draws: PooledDraws, strata: Strata, present: Present, rate: Singles,
    removals: Sequence[Removal], share: Floats,
) -> Iterator[PlaceForecast]:
    """Yield the forecasts of all places, each a mixture of hoses that may really be there.

    Parameters
    ----------
    draws, strata, present, rate, removals
        As for `etl.build.track.laws.pooled_forecasts`.
    share : ndarray, shape (k,)
        From `etl.life.reporting_delay.recorded_share`.
    """
    for number, mine in present.cells():
        law = cell_law(draws, strata, number, removals)
        age, chance = starts(law, present.age[mine], rate[mine], share)
        streams = [forecast_places(law, mine, one, rate[mine]) for one in age]
        at = 0
        for blocks in zip(*streams, strict=True):
            n = blocks[0].places.size
            yield mixed(blocks, chance[:, at : at + n])
            at += n


def mixed(blocks: Sequence[PlaceForecast], chance: Floats) -> PlaceForecast:
    """Return the forecast of places where one of several hoses is in service.

    Parameters
    ----------
    blocks : sequence of PlaceForecast, length k
        Of the same places.
    chance : ndarray, shape (k, n, n_draws)
        Of each, adding up to 1.
    """
    weight = chance.astype(np.float32)

    def mean(name: str) -> Singles:
        parts = [getattr(block, name) for block in blocks]
        wide = weight[..., None] if parts[0].ndim == 3 else weight
        return np.asarray(sum(w * part for w, part in zip(wide, parts, strict=True)), np.float32)

    def variance(of: str, name: str) -> Singles:
        middle = mean(of)
        return np.asarray(mean(name) + sum(
            w[..., None] * (getattr(block, of) - middle) ** 2
            for w, block in zip(weight, blocks, strict=True)), np.float32)

    return replace(
        blocks[0], expected=mean("expected"), first=mean("first"),
        chance_90_days=mean("chance_90_days"), month_variance=mean("month_variance"),
        changes=mean("changes"), variance=variance("expected", "variance"),
        changes_variance=variance("changes", "changes_variance"))
