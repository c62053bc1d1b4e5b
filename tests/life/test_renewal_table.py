"""Forecasts read from a table are those made one by one: to three in a thousand of the mean."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from etl.life import renewal_table
from etl.life.cell_law import CellLaw
from etl.life.renewal import forecast_places
from etl.life.renewal_table import NUMBERS, VARIANCES, forecast_many

N, N_DRAWS = 1300, 20


def world(
    seed: int, rate: np.ndarray | None = None, removal: tuple[float, float] | None = None,
    spread: float = 0.45, shape: float = 0.7,
) -> tuple[CellLaw, np.ndarray, np.ndarray]:
    """Return an invented cell of three mechanisms, ages and rates of its places."""
    rng = np.random.default_rng(seed)
    shapes = np.exp(rng.normal(shape, spread, 3) + rng.normal(0, 0.15, (N_DRAWS, 3)))
    life = rng.normal(7.0, 0.5, 3) + rng.normal(0, 0.3, (N_DRAWS, 3))
    age = np.r_[0.0, 0.0, 3.0, rng.uniform(0, 2500, N - 3)]
    drawn = rng.gamma(4, 1 / 4, (N, N_DRAWS)) if rate is None else rate
    law = CellLaw(shapes.astype(np.float32), life.astype(np.float32), removal=removal)
    return law, age, drawn.astype(np.float32)


def gathered(blocks) -> dict[str, np.ndarray]:
    found: dict[str, np.ndarray] = {}
    seen = np.zeros(N, int)
    for block in blocks:
        seen[block.places] += 1
        for name in NUMBERS:
            part = getattr(block, name)
            found.setdefault(name, np.full((N, *part.shape[1:]), np.nan))[block.places] = part
    assert_array_equal(seen, 1)  # each place once
    return found


def tables_made(monkeypatch) -> list[bool]:
    """Record whether each table made was near enough."""
    said: list[bool] = []
    is_near = renewal_table._is_near

    def listening(*given):
        said.append(is_near(*given))
        return said[-1]

    monkeypatch.setattr(renewal_table, "_is_near", listening)
    return said


@pytest.mark.parametrize(("seed", "removal", "rate"), [
    (0, None, None), (1, (2.0, 6.5), None), (2, (1.5, 7.5), np.ones((N, N_DRAWS))),
], ids=["failures", "removals too", "all like their peers"])
def test_table_and_one_by_one_agree(seed, removal, rate, monkeypatch):
    said = tables_made(monkeypatch)
    law, age, z = world(seed, rate, removal)
    near = gathered(forecast_many(law, np.arange(N), age, z))
    exact = gathered(forecast_places(law, np.arange(N), age, z))
    assert said[-1:] == [True]
    for name in NUMBERS:
        small, share = (0.05, 0.05) if name in VARIANCES else (0.01, 0.005)
        mean, wanted = near[name].mean(axis=1), exact[name].mean(axis=1)
        assert np.all(np.abs(mean - wanted) <= share * np.maximum(wanted, small)), name


def test_few_places_are_forecast_one_by_one():
    law, age, z = world(3)
    few = np.arange(60)
    made = np.concatenate([b.expected for b in forecast_many(law, few, age[:60], z[:60])])
    assert_array_equal(
        made, np.concatenate([b.expected for b in forecast_places(law, few, age[:60], z[:60])]))
    assert list(forecast_many(law, few[:0], age[:0], z[:0])) == []


def test_a_law_too_sharp_for_any_table_is_forecast_one_by_one(monkeypatch):
    said = tables_made(monkeypatch)
    law, age, z = world(4, np.ones((N, N_DRAWS)), shape=3.4, spread=0.05)
    made = gathered(forecast_many(law, np.arange(N), age, z))
    assert said
    assert not any(said)
    assert_array_equal(
        made["expected"], gathered(forecast_places(law, np.arange(N), age, z))["expected"])


def test_other_places_do_not_move_a_place():
    law, age, z = world(5)
    all_places = gathered(forecast_many(law, np.arange(N), age, z))["expected"]
    some = np.arange(0, N, 7)[:80]
    kept = np.r_[some, np.setdiff1d(np.arange(N), some)[:1130]]
    order = np.arange(kept.size)
    found = np.full((kept.size, N_DRAWS, 12), np.nan)
    for block in forecast_many(law, order, age[kept], z[kept]):
        found[block.places] = block.expected
    assert_allclose(found[:80].mean(1), all_places[some].mean(1), rtol=1e-3, atol=1e-5)
