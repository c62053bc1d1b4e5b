"""Forecasts of places whose hose may have failed already without being on record."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from etl.life.cell_law import CellLaw
from etl.life.renewal import PlaceForecast
from etl.life.renewal_table import AT_ONCE, NUMBERS, Forecaster, forecast_many
from etl.life.reporting_delay import late_chances, successor_age

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]


def forecast_late(
    law: CellLaw, places: Ints, age: Floats, rate: Singles, share: Floats
) -> Iterator[tuple[PlaceForecast, Singles]]:
    """Forecast the places of one cell, of whichever hose may really be there.

    Parameters
    ----------
    law, places, age, rate
        As of `etl.life.renewal.forecast_places`; ages by the record as it stands.
    share : ndarray, shape (k,)
        From `etl.life.reporting_delay.recorded_share`; of one number where records come in time.

    Yields
    ------
    PlaceForecast
        In an order of its own.
    ndarray, shape (n, n_draws)
        Chance that the hose on record has failed by now.

    Notes
    -----
    A mixture of the hose on record and of its successor, by `late_chances` of that draw; all that
    the successor may be is one hose of their mean age.
    """
    if share.size == 1:
        for block in forecast_many(law, places, age, rate):
            yield block, np.zeros(rate[: block.places.size].shape, np.float32)
        return
    new_age = successor_age(age, share)
    old, new = Forecaster.of(law, age, rate), Forecaster.of(law, new_age, rate)
    for at in range(0, age.size, AT_ONCE):
        mine = slice(at, at + AT_ONCE)
        here = places[mine]
        gone, failed = late_chances(law, age[mine], rate[mine], share)
        yield mixed(together(old.read(here, age[mine], rate[mine]), here),
                    together(new.read(here, new_age[mine], rate[mine]), here), gone), failed


def together(blocks: Iterator[PlaceForecast], places: Ints) -> PlaceForecast:
    """Put blocks of places together, in the order of these."""
    parts = list(blocks)
    found = np.concatenate([part.places for part in parts])
    order = np.argsort(found)[np.argsort(np.argsort(places))]
    return PlaceForecast(places=found[order], **{
        name: np.concatenate([getattr(part, name) for part in parts])[order] for name in NUMBERS})


def mixed(old: PlaceForecast, new: PlaceForecast, chance: Singles) -> PlaceForecast:
    """Return the forecast of places where one of two hoses is in service.

    Parameters
    ----------
    old, new : PlaceForecast
        Of the same places.
    chance : ndarray, shape (n, n_draws)
        Of the second.
    """
    wide = chance[..., None]

    def mean(name: str) -> Singles:
        one, other = getattr(old, name), getattr(new, name)
        return np.asarray(one + (wide if one.ndim == 3 else chance) * (other - one), np.float32)

    def variance(of: Singles, other: Singles, name: str) -> Singles:
        return np.asarray(mean(name) + wide * (1.0 - wide) * (other - of) ** 2, np.float32)

    def single(block: PlaceForecast) -> Singles:
        return np.diff(block.expected, axis=2, prepend=np.float32(0.0))

    return replace(
        old, expected=mean("expected"), chance_90_days=mean("chance_90_days"),
        chance_12_months=mean("chance_12_months"), changes=mean("changes"),
        variance=variance(old.expected, new.expected, "variance"),
        month_variance=variance(single(old), single(new), "month_variance"),
        changes_variance=variance(old.changes, new.changes, "changes_variance"))
