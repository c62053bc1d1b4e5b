"""The replacement age of least cost, against quadrature, published examples and simulation."""

from dataclasses import fields

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate, optimize, special

from etl.decide.age_replacement import best_ages, best_ages_of_kinds, joint_shape
from etl.decide.cost_rate import DAYS_A_YEAR
from etl.decide.preventive import Verdict, verdicts
from etl.life.cell_law import CellLaw

LIFE = 1000.0


def law_of(*mechanisms, n_draws=1):
    """Return a law whose draws are all the same: (shape, characteristic life) a mechanism."""
    shape, life = (np.array(column, np.float32) for column in zip(*mechanisms, strict=True))
    return CellLaw(np.tile(shape, (n_draws, 1)), np.tile(np.log(life), (n_draws, 1)))


def one_best(law, planned, failure, rate=1.0):
    rates = np.full((1, law.shape.shape[0]), rate, np.float32)
    return best_ages(law, rates, np.array([planned]), np.array([failure]))


def exact(mechanisms, planned, failure, rate=1.0):
    """Return the best age, its cost rate and that of changing on failure, by quadrature."""
    def alive(age):
        return np.exp(-rate * sum((age / life) ** shape for shape, life in mechanisms))

    def area(age):
        return integrate.quad(alive, 0.0, age, epsabs=1e-10, limit=200)[0]

    def cost(log_age):
        age = np.exp(log_age)
        return (planned * alive(age) + failure * (1.0 - alive(age))) / area(age)

    least = min(life for _, life in mechanisms)
    end = np.log(least) + 2.0
    found = optimize.minimize_scalar(
        cost, bounds=(np.log(least) - 3.5, end), method="bounded", options={"xatol": 1e-7})
    return np.exp(found.x), found.fun, failure / area(40.0 * least * min(rate, 1.0) ** -0.8)


@pytest.mark.parametrize("rate", [0.3, 1.0, 3.0])
@pytest.mark.parametrize("ratio", [2.0, 5.0, 20.0])
@pytest.mark.parametrize("shape", [1.5, 2.5, 4.0, 8.0])
def test_age_and_saving_agree_with_quadrature(shape, ratio, rate):
    age, cost, never = exact([(shape, LIFE)], 1.0, ratio, rate)
    found = one_best(law_of((shape, LIFE)), 1.0, ratio, rate)
    assert_allclose(found.age, age, rtol=0.02)
    assert_allclose(found.saving / DAYS_A_YEAR / never, (never - cost) / never, atol=2e-3)
    assert_allclose(found.cost_never / DAYS_A_YEAR, never, rtol=1e-4)
    assert found.flat_from[0] < found.age[0] < found.flat_to[0]


def test_competing_mechanisms_agree_with_quadrature():
    mechanisms = [(1.1, 2000.0), (3.0, 1200.0), (2.0, 5000.0)]
    age, cost, never = exact(mechanisms, 300.0, 1500.0)
    found = one_best(law_of(*mechanisms), 300.0, 1500.0)
    assert_allclose(found.age, age, rtol=0.02)
    assert_allclose(found.saving / DAYS_A_YEAR, never - cost, rtol=0.01)
    alive = np.exp(-sum((age / life) ** shape for shape, life in mechanisms))
    assert_allclose(found.failing_before, 1.0 - alive, atol=0.01)


def test_the_flat_region_keeps_nine_tenths_of_the_saving():
    mechanisms = [(2.5, LIFE)]
    found = one_best(law_of(*mechanisms), 1.0, 8.0)

    def cost(age):
        alive = np.exp(-((age / LIFE) ** 2.5))
        area = LIFE / 2.5 * special.gamma(0.4) * special.gammainc(0.4, (age / LIFE) ** 2.5)
        return (alive + 8.0 * (1.0 - alive)) / area

    never = 8.0 / (LIFE * special.gamma(1.4))
    best = never - cost(found.age[0])
    for end in (found.flat_from[0], found.flat_to[0]):
        assert_allclose((never - cost(end)) / best, 0.9, atol=0.01)


@pytest.mark.parametrize("shape", [0.7, 1.0])
def test_no_age_pays_without_wear_out(shape):
    found = one_best(law_of((shape, LIFE)), 1.0, 50.0)
    assert np.isnan(found.age[0])
    assert found.chance[0] == 0.0


def test_a_simulated_fleet_pays_what_is_promised():
    rng = np.random.default_rng(11)
    shape, planned, failure = 3.0, 200.0, 1400.0
    found = one_best(law_of((shape, LIFE)), planned, failure)
    life = LIFE * rng.weibull(shape, 400_000)
    failed = life < found.age[0]
    paid = np.where(failed, failure, planned).sum() / np.minimum(life, found.age[0]).sum()
    assert_allclose(found.cost / DAYS_A_YEAR, paid, rtol=0.005)
    assert_allclose(found.cost_never / DAYS_A_YEAR, failure / life.mean(), rtol=0.005)


def test_the_chance_that_it_pays_is_true_as_often_as_said():
    """Truth and draws from one prior: an age that pays with chance p pays in a share p of them."""
    rng = np.random.default_rng(5)
    n_worlds, n_draws = 1200, 200
    centre = rng.normal(0.45, 0.25, (n_worlds, 1))
    drawn = (centre + rng.normal(0.0, 0.25, (n_worlds, n_draws))).astype(np.float32)
    true = centre[:, 0] + rng.normal(0.0, 0.25, n_worlds)
    said, came = [], []
    for draws, log_shape in zip(drawn, true, strict=True):
        law = CellLaw(np.exp(draws)[:, None], np.full((n_draws, 1), np.log(LIFE), np.float32))
        found = best_ages(law, np.ones((1, n_draws), np.float32), np.array([1.0]), np.array([3.0]))
        if np.isnan(found.age[0]):
            continue
        shape, age = np.exp(log_shape), found.age[0]
        power = (age / LIFE) ** shape
        alive = np.exp(-power)
        area = LIFE / shape * special.gamma(1 / shape) * special.gammainc(1 / shape, power)
        cost = (alive + 3.0 * (1.0 - alive)) / area
        said.append(found.chance[0])
        came.append(cost < 3.0 / (LIFE * special.gamma(1 + 1 / shape)))
    said, came = np.array(said), np.array(came)
    for low, high in ((0.5, 0.8), (0.8, 0.95), (0.95, 1.01)):
        mine = (said >= low) & (said < high)
        assert mine.sum() > 30
        error = 2.5 * np.sqrt(0.25 / mine.sum())
        assert abs(said[mine].mean() - came[mine].mean()) < max(0.05, error)


def test_unknown_costs_leave_their_own_place_unknown_only():
    law = law_of((3.0, LIFE), n_draws=4)
    cost = np.array([np.nan, 1.0, 1.0]), np.array([5.0, np.nan, 5.0])
    found = best_ages(law, np.ones((3, 4), np.float32), *cost)
    assert np.isnan(found.age).tolist() == [True, True, False]
    said = verdicts(found, np.full(3, 2.0), *cost, 0.9, 0.02)
    assert said == [Verdict.NO_PLANNED_COST, Verdict.NO_FAILURE_COST, Verdict.PAYS]


@pytest.mark.parametrize(
    ("shape", "lower", "planned", "failure", "verdict"),
    [
        (3.0, 2.0, 1.0, 5.0, Verdict.PAYS),
        (3.0, 0.9, 1.0, 5.0, Verdict.NO_WEAR),
        (3.0, np.nan, 1.0, 5.0, Verdict.NO_WEAR),
        (3.0, 2.0, 5.0, 5.0, Verdict.NO_DIFFERENCE),
        (3.0, 2.0, 6.0, 5.0, Verdict.NO_DIFFERENCE),
        (1.0, 1.01, 1.0, 5.0, Verdict.NO_SAVING),
        (1.5, 1.2, 1.0, 2.2, Verdict.SMALL),
    ],
)
def test_the_verdict_names_what_stands_against_an_age(shape, lower, planned, failure, verdict):
    found = one_best(law_of((shape, LIFE)), planned, failure)
    costs = np.array([planned]), np.array([failure])
    assert verdicts(found, np.array([lower]), *costs, 0.9, 0.02) == [verdict]


def test_a_saving_that_is_not_likely_is_not_advised():
    rng = np.random.default_rng(3)
    shape = np.exp(rng.normal(0.4, 0.35, (400, 1))).astype(np.float32)
    law = CellLaw(shape, np.full((400, 1), np.log(LIFE), np.float32))
    found = best_ages(law, np.ones((1, 400), np.float32), np.array([1.0]), np.array([4.0]))
    costs = np.array([1.0]), np.array([4.0])
    assert 0.1 < found.chance[0] < 0.9
    assert verdicts(found, np.array([1.1]), *costs, 0.9, 0.0) == [Verdict.UNSURE]
    assert verdicts(found, np.array([1.1]), *costs, 0.1, 0.0) == [Verdict.PAYS]


def test_places_do_not_depend_on_who_stands_beside_them():
    rng = np.random.default_rng(8)
    law = CellLaw(np.exp(rng.normal(0.9, 0.1, (50, 2))).astype(np.float32),
                  rng.normal(7.0, 0.1, (50, 2)).astype(np.float32))
    rate = rng.gamma(3.0, 1 / 3.0, (300, 50)).astype(np.float32)
    cost = rng.uniform(100, 300, 300), rng.uniform(800, 2000, 300)
    together = best_ages(law, rate, *cost)
    for place in (0, 150, 299):
        alone = best_ages(law, rate[[place]], cost[0][[place]], cost[1][[place]])
        assert_allclose(alone.age, together.age[[place]], rtol=1e-5)
        assert_allclose(alone.saving, together.saving[[place]], rtol=1e-4)


def test_kinds_worked_on_together_are_those_of_a_place_each():
    rng = np.random.default_rng(9)
    laws = [CellLaw(np.exp(rng.normal(0.9, 0.2, (40, m))).astype(np.float32),
                    rng.normal(rng.uniform(5.0, 9.0), 0.1, (40, m)).astype(np.float32))
            for m in (1, 2, 2, 5, 1) * 50]
    planned, failure = rng.uniform(100, 300, 250), rng.uniform(300, 4000, 250)
    planned[7] = failure[12] = np.nan
    together = best_ages_of_kinds(laws, planned, failure)
    one = np.ones((1, 40), np.float32)
    for kind in (0, 1, 3, 7, 12, 13, 249):
        alone = best_ages(laws[kind], one, planned[[kind]], failure[[kind]])
        for field in fields(together):
            assert_allclose(getattr(together, field.name)[[kind]], getattr(alone, field.name),
                            rtol=1e-6, err_msg=field.name)
    assert np.isnan(together.cost[[7, 12]]).all()
    assert np.isfinite(together.age).sum() > 200


def test_joint_shape_is_the_slope_of_the_summed_hazard():
    log_shape = np.log([[1.2, 2.5, 4.0]])
    log_life = np.log([[3000.0, 1500.0, 2500.0]])

    def log_hazard(log_age):
        return np.log(np.exp(np.exp(log_shape) * (log_age - log_life)).sum())

    at = optimize.brentq(log_hazard, 2.0, 12.0)
    slope = (log_hazard(at + 1e-5) - log_hazard(at - 1e-5)) / 2e-5
    assert_allclose(joint_shape(log_shape, log_life), [slope], rtol=1e-6)


def cost_of_age(shape, age, planned, failure):
    """Return the true cost rate of an age, inf = never, of lives of characteristic life 1."""
    if not np.isfinite(age):
        return failure / special.gamma(1 + 1 / shape)
    power = age**shape
    area = special.gamma(1 + 1 / shape) * special.gammainc(1 / shape, power)
    return (planned + (failure - planned) * -np.expm1(-power)) / area


def test_draws_beat_a_plugged_in_estimate_at_one_or_two_failures():
    """Worlds from a prior, few failures each; posterior by weighting the prior's own draws."""
    rng = np.random.default_rng(17)
    ratio, excess = 8.0, {"draws": [], "plugged in": []}
    prior_shape = np.exp(rng.normal(0.7, 0.3, 4000))
    prior_life = np.exp(rng.normal(0.0, 0.6, 4000))
    while len(excess["draws"]) < 150:
        shape, scale = np.exp(rng.normal(0.7, 0.3)), np.exp(rng.normal(0.0, 0.6))
        life, end = scale * rng.weibull(shape, 6), rng.uniform(0.2, 1.2, 6)
        failed, age = life <= end, np.minimum(life, end)
        if not 1 <= failed.sum() <= 2:
            continue
        power = (age / prior_life[:, None]) ** prior_shape[:, None]
        log_density = np.log(prior_shape[:, None] * power / age)
        log_weight = (failed * log_density - power).sum(axis=1)
        weight = np.exp(log_weight - log_weight.max())
        drawn = rng.choice(4000, 200, p=weight / weight.sum())
        best = optimize.minimize(
            lambda at, age=age, failed=failed: (
                ((age / np.exp(at[1])) ** np.exp(at[0])).sum()
                - (failed * (at[0] + np.exp(at[0]) * (np.log(age) - at[1]))).sum()),
            [0.7, 0.0], method="L-BFGS-B", bounds=[(-2, 3), (-5, 5)]).x
        laws = {"draws": (prior_shape[drawn], np.log(prior_life[drawn])),
                "plugged in": (np.exp(best[[0]]), best[[1]])}
        ages = np.exp(np.linspace(-3.5, 2.0, 300))
        least = min(cost_of_age(shape, t, 1.0, ratio) for t in [*ages, np.inf])
        for name, (u, m) in laws.items():
            law = CellLaw(u[:, None].astype(np.float32), m[:, None].astype(np.float32))
            found = one_best(law, 1.0, ratio)
            chosen = np.nan_to_num(found.age[0], nan=np.inf) / scale
            excess[name].append(cost_of_age(shape, chosen, 1.0, ratio) / least - 1.0)
    assert np.mean(excess["draws"]) < 0.6 * np.mean(excess["plugged in"])
