"""Survival at each place: hazards in proportion, draw by draw."""

from datetime import date

import numpy as np
import pandas as pd
from numpy.testing import assert_allclose

from etl.build.lives import Lives
from etl.build.place_survival import N_AGES, place_survival
from etl.build.statistics import LifeStatistics
from etl.build.strata import Strata
from etl.life.pooling.pool import PooledDraws

N_DRAWS = 50


def found(shape, life):
    """Return statistics of one kind with two mechanisms and one with one, without their lives."""
    cell = np.array([0, 0, 1])
    lives = Lives(
        cell=np.array([0, 1]), entry=np.zeros(2), low=np.array([900.0, 4000.0]),
        high=np.full(2, np.inf), mechanism=np.full(2, -1), place=np.zeros(2, int),
        count=np.ones(2), cell_class=np.array([0, 0]), cell_construction=np.array([0, 1]),
        classes=("c",), constructions=("a", "b"), mechanisms=("m", "n"), places=("P",))
    draws = PooledDraws(np.log(shape).astype(np.float32), np.log(life).astype(np.float32),
                        np.ones(3), np.ones(3), np.eye(2))
    whole = np.stack([life[:, :2].min(axis=1), life[:, 2]], axis=1)
    return LifeStatistics(date(2026, 1, 1), lives, Strata(cell, np.array([0, 1, 0]), ("m", "n")),
                          draws, whole, whole, np.full((3, 5), np.nan))


def test_known_law_and_rate_give_the_power_of_the_law():
    shape = np.tile([2.0, 1.0, 1.5], (N_DRAWS, 1))
    life = np.tile([300.0, 800.0, 1000.0], (N_DRAWS, 1))
    rate = np.repeat([[2.5], [1.0], [0.5]], N_DRAWS, axis=1).astype(np.float32)
    frame = place_survival(found(shape, life), np.array([0, -1, 1]), rate,
                           pd.Series(["P", "Q", "R"]), 0.90)
    assert frame["service_point"].value_counts().to_dict() == {"P": N_AGES, "R": N_AGES}
    for name, z, law in (
        ("P", 2.5, lambda t: (t / 300) ** 2 + t / 800), ("R", 0.5, lambda t: (t / 1000) ** 1.5)):
        mine = frame[frame["service_point"] == name]
        wanted = np.exp(-z * law(mine["age_days"].to_numpy()))
        for column in ("survival", "survival_lower", "survival_upper"):
            assert_allclose(mine[column], wanted, atol=1e-5)
    ends = frame.groupby("service_point")["age_days"].max()
    assert_allclose([ends["P"], ends["R"]], [4 * 300, 4 * 1000])


def test_the_range_holds_what_is_not_known_of_kind_and_place():
    rng = np.random.default_rng(1)
    shape = np.full((N_DRAWS, 3), 1.0)
    life = np.exp(rng.normal(6.0, 0.2, (N_DRAWS, 3)))
    rate = np.stack([np.ones(N_DRAWS), rng.gamma(4.0, 0.25, N_DRAWS)]).astype(np.float32)
    frame = place_survival(found(shape, life), np.array([1, 1]), rate, pd.Series(["P", "Q"]), 0.90)
    width = {}
    for name, z in zip("PQ", rate, strict=True):
        mine = frame[frame["service_point"] == name]
        draws = np.exp(-z * mine["age_days"].to_numpy()[:, None] / life[:, 2])
        wanted = np.quantile(draws, [0.05, 0.5, 0.95], axis=1)
        got = mine[["survival_lower", "survival", "survival_upper"]].to_numpy().T
        assert_allclose(got, wanted, atol=2e-6)
        width[name] = (wanted[2] - wanted[0]).max()
    assert width["Q"] > 2 * width["P"]


def test_no_place_with_a_hose_gives_an_empty_frame():
    shape = np.ones((N_DRAWS, 3))
    frame = place_survival(found(shape, shape * 100), np.array([-1]),
                           np.ones((1, N_DRAWS), np.float32), pd.Series(["P"]), 0.90)
    assert len(frame) == 0
    assert list(frame.columns) == ["service_point", "age_days", "survival", "survival_lower",
                                   "survival_upper"]


def test_the_law_of_the_kind_at_the_printed_rate_lies_within_the_range(edition):
    n, outside = edition.execute("""
        with law as (
            select s.*, power(c.survival, r.relative_rate) as expected
            from place_survival as s
            join ranking as r using (service_point)
            join service_points as p using (service_point)
            asof join life_curves as c on c.application_class = p.application_class
                and c.construction = p.construction and c.mechanism = 'all'
                and c.age_days <= s.age_days
            where s.age_days - c.age_days < 2
        )
        select count(*), count(*) filter (
            where expected not between survival_lower - 0.02 and survival_upper + 0.02)
        from law
    """).fetchall()[0]
    assert n > 1000
    assert outside == 0
