"""Places read from a table of their cell: near those forecast one by one, and the same anywhere."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from etl.life.cell_law import CellLaw
from etl.life.renewal import N_MONTHS, forecast_places
from etl.scale import forecasts
from etl.scale.partitions import read_list
from etl.scale.places import PlaceTask, class_laws
from etl.scale.table import CHANCE, ERROR, SMALL, table_of
from tests.scale.conftest import WORLD

N_DRAWS = 12


def law(shapes):
    rng = np.random.default_rng(4)
    size = N_DRAWS, len(shapes)
    return CellLaw((np.array(shapes) * np.exp(rng.normal(0.0, 0.06, size))).astype(np.float32),
                   (7.6 + rng.normal(0.0, 0.15, size)).astype(np.float32),
                   removal=(1.8, np.log(2_600.0)))


def one_by_one(cell, age, rate):
    found = np.empty((age.size, N_DRAWS, CHANCE + 1))
    for block in forecast_places(cell, np.arange(age.size), age, rate):
        found[block.places] = np.concatenate([
            block.expected, block.month_variance.cumsum(axis=2), block.chance_90_days[..., None]],
            axis=2)
    return found


@pytest.mark.parametrize("shapes", [(2.0, 2.6, 0.9), (0.7,), (3.5, 1.2)])
def test_what_is_read_is_within_the_stated_error(shapes):
    cell, rng = law(shapes), np.random.default_rng(8)
    age = np.floor(rng.uniform(0.0, 2_500.0, 150))
    rate = (rng.gamma(4.0, 0.25, (150, 1)) * rng.gamma(20.0, 0.05, (150, N_DRAWS))
            ).astype(np.float32)
    table = table_of(cell)
    held = table.holds(age, rate)
    assert held.mean() > 0.9
    age, rate = age[held], rate[held]
    share = table.between(age, rate)
    read = np.asarray(share @ table.values.reshape(-1, CHANCE + 1).astype(np.float64))
    read = np.moveaxis(read.reshape(N_DRAWS, age.size, -1), 0, 1)
    exact = one_by_one(cell, age, rate)
    counts = [*range(N_MONTHS), CHANCE]
    gap = np.abs(read - exact)[..., counts].mean(axis=1)
    assert np.all(gap <= ERROR * np.maximum(exact[..., counts].mean(axis=1), SMALL))


def test_what_a_table_does_not_hold_is_said():
    table = table_of(law((2.0,)))
    one = np.ones((1, N_DRAWS), np.float32)
    assert table.holds(np.array([700.0]), one).all()
    assert not table.holds(np.array([9_000.0]), one).any()
    fast = one.copy()
    fast[0, 3] = 30.0  # in one draw
    assert not table.holds(np.array([700.0]), fast).any()


def test_a_class_read_from_tables_is_forecast_alike_in_any_company(
    parts, settings, expected, monkeypatch
):
    laws = class_laws(expected.law)
    tasks = [PlaceTask(part, laws[part.application_class])
             for part in read_list(str(parts)).partitions][:WORLD.n_sites]
    monkeypatch.setattr(forecasts, "WORTH_FROM", 1)
    (together,) = forecasts.forecast_tasks(tasks, expected.peers, 5)
    monkeypatch.setattr(forecasts, "PLACES_A_TASK", 1)
    apart = forecasts.forecast_tasks(tasks, expected.peers, 5)
    assert (len(together.partitions), len(apart)) == (2, 2)
    months, worst = forecasts.forecast(together)
    alone = [forecasts.forecast(task)[0] for task in reversed(apart)][::-1]
    assert [one.sums.tobytes() for one in months] == [
        one.sums.tobytes() for some in alone for one in some]
    plain, others = forecasts.forecast(replace(together, is_tabled=False))
    for one, other in zip(months, plain, strict=True):
        assert_allclose(one.sums.mean(axis=1), other.sums.mean(axis=1), rtol=ERROR)
        assert not np.array_equal(one.sums, other.sums)
    assert_allclose(worst.failures.mean(axis=1), others.failures.mean(axis=1), rtol=ERROR)
