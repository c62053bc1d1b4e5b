"""Places that do not differ, read from a table over age: near those forecast one by one."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from etl.life.joined_laws import JoinedLaws
from etl.life.renewal import N_MONTHS
from etl.life.renewal_hazards import steps_a_month, steps_of_each
from etl.scale import forecasts
from etl.scale.alike import alike_tables
from etl.scale.partitions import read_list
from etl.scale.places import PlaceTask, class_laws
from etl.scale.table import CHANCE, ERROR, SMALL, YEAR
from tests.scale.conftest import WORLD
from tests.scale.test_table import N_DRAWS, law, one_by_one

SHAPES = [(2.0, 2.6, 0.9), (0.7,), (3.5, 1.2)]
UNUSED = np.ones((1, N_DRAWS), np.float32)


def ones(n):
    return np.ones((n, N_DRAWS), np.float32)


@pytest.mark.parametrize("shapes", SHAPES)
@pytest.mark.parametrize("is_removed", [True, False])
def test_what_is_read_is_within_the_stated_error(shapes, is_removed):
    cell = law(shapes) if is_removed else replace(law(shapes), removal=None)
    age = np.floor(np.random.default_rng(8).uniform(0.0, 2_500.0, 150))
    (table,) = alike_tables([cell])
    held = table.holds(age, UNUSED)
    assert held.mean() > 0.8
    age = age[held]
    exact = one_by_one(cell, age, ones(age.size))
    _, year, chance = table.read(age, UNUSED, np.ones((1, age.size)))
    at_most = ERROR * np.maximum(exact.mean(axis=1), SMALL)
    assert np.all(np.abs(year - exact[..., YEAR]).mean(axis=1) <= at_most[:, YEAR])
    assert np.all(np.abs(chance - exact[..., CHANCE].mean(axis=1)) <= at_most[:, CHANCE])
    each = [table.months(table.read(age[k:k + 1], UNUSED, np.ones((1, 1)))[0])[:N_MONTHS, 0]
            for k in range(age.size)]
    gap = np.abs(np.moveaxis(each, 1, 2) - exact[..., :N_MONTHS]).mean(axis=1)
    assert np.all(gap <= at_most[:, :N_MONTHS])


def test_weights_add_up_on_the_nodes_as_places_do():
    cell, rng = law((2.0, 1.4)), np.random.default_rng(3)
    (table,) = alike_tables([cell])
    age, weight = rng.uniform(20.0, 2_000.0, 40), rng.uniform(0.0, 900.0, (3, 40))
    together = table.months(table.read(age, UNUSED, weight)[0])
    exact = np.einsum("wp,pdf->fwd", weight, one_by_one(cell, age, ones(40))[..., :CHANCE])
    assert_allclose(together[:N_MONTHS].mean(axis=2), exact[:N_MONTHS].mean(axis=2), rtol=ERROR)
    assert_allclose(together[N_MONTHS:].mean(axis=2), exact[N_MONTHS:].mean(axis=2), rtol=0.02)


def test_ages_beyond_the_table_and_laws_too_sharp_for_it_are_not_held():
    smooth, sharp = alike_tables([law((2.0,)), law((14.0,))])
    assert smooth.holds(np.array([0.0, 700.0]), UNUSED).all()
    assert not smooth.holds(np.array([9_000.0]), UNUSED).any()
    assert not sharp.holds(np.array([1_200.0]), UNUSED).any()


def test_a_table_is_the_same_in_any_company():
    cells = [law(shapes) for shapes in (*SHAPES, (1.1, 2.2), (6.0,), (1.6, 3.0))]
    cells += [replace(law((2.4, 1.3)), removal=None)]
    for cell, table in zip(cells, alike_tables(cells), strict=True):
        (alone,) = alike_tables([cell])
        assert_array_equal(table.values, alone.values)
        assert_array_equal(table.is_near, alone.is_near)


def test_steps_of_joined_laws_are_those_of_each():
    cells = [replace(law((2.0,)), log_life=law((2.0,)).log_life - fall) for fall in (0, 2, 3, 4)]
    one = np.ones((1, 1), np.float32)
    each = [steps_a_month(cell, one) for cell in cells]
    assert len(set(each)) > 2
    assert_array_equal(steps_of_each(JoinedLaws.of(cells), len(cells)), each)


def test_a_class_of_places_alike_is_forecast_alike_in_any_company(
    parts, settings, expected, monkeypatch
):
    laws, peers = class_laws(expected.law), replace(expected.peers, concentration=np.inf)
    tasks = [PlaceTask(part, laws[part.application_class])
             for part in read_list(str(parts)).partitions][:WORLD.n_sites]
    monkeypatch.setattr(forecasts, "ALIKE_WORTH_FROM", 1)
    (together,) = forecasts.forecast_tasks(tasks, peers, 5)
    assert together.is_tabled
    monkeypatch.setattr(forecasts, "PLACES_A_TASK", 1)
    apart = forecasts.forecast_tasks(tasks, peers, 5)
    months, worst = forecasts.forecast(together)
    alone = [one for task in apart for one in forecasts.forecast(task)[0]]
    assert [one.sums.tobytes() for one in months] == [one.sums.tobytes() for one in alone]
    plain, others = forecasts.forecast(replace(together, is_tabled=False))
    for one, other in zip(months, plain, strict=True):
        assert_allclose(one.sums.mean(axis=1), other.sums.mean(axis=1), rtol=ERROR)
        assert not np.array_equal(one.sums, other.sums)
    assert_allclose(worst.failures.mean(axis=1), others.failures.mean(axis=1), rtol=ERROR)
