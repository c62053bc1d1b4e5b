"""Every case in which a fit can go wrong has a stated outcome, without warning or NaN.

The kinds follow public bug reports of general-purpose libraries, named in the ids; the lives are
our own.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import optimize

from etl.errors import FitError
from etl.life.bounds import likelihood_ratio_bounds, normal_bounds
from etl.life.fit import fit_arranged, fit_strata
from etl.life.fixed_shape import life_at_shape
from etl.life.strata import arrange_strata
from etl.life.weibull import b_life, failure_probability, log_likelihood, mean_life, survival

INF = np.inf


def arranged(failed=(), suspended=(), intervals=(), late=()):
    """Lives of one stratum: ages, ages, (low, high) pairs, (entry, low, high) triples."""
    rows = [(0.0, age, age) for age in failed] + [(0.0, age, INF) for age in suspended]
    rows += [(0.0, low, high) for low, high in intervals] + list(late)
    entry, low, high = np.array(rows, float).reshape(-1, 3).T
    return arrange_strata(np.zeros(len(rows), int), entry, low, high, 1.0, 1)


CASES = [
    pytest.param(arranged([731], [214, 402, 655]), "shape_not_estimable",
                 id="one failure, the oldest life (lifelines #533)"),
    pytest.param(arranged([], [130, 260, 390]), "no_failures",
                 id="suspensions only (SurPyval #249)"),
    pytest.param(arranged([75, 75, 75]), "shape_not_estimable",
                 id="all failures at one age (reliability #57)"),
    pytest.param(arranged([75, 75], [75, 60]), "shape_not_estimable",
                 id="all failures at the greatest age, a suspension there too"),
    pytest.param(arranged([40, 40], [55]), "few_failures", id="equal failures, one older survivor"),
    pytest.param(arranged([300], [100, 900]), "few_failures", id="one failure, some life older"),
    pytest.param(arranged([50, 80, 90, 120]), "few_failures", id="four failures"),
    pytest.param(arranged([50, 80, 90, 120, 125]), "ok", id="five failures"),
    pytest.param(arranged([1000.0, 1000.01]), "shape_not_estimable",
                 id="two failures 1e-5 apart: steeper than any record"),
    pytest.param(arranged([], [5], [(10, 20)]), "shape_not_estimable",
                 id="one interval that every life agrees with"),
    pytest.param(arranged([], [20, 20], [(10, 20)]), "shape_not_estimable",
                 id="an interval that ends where the suspensions do"),
    pytest.param(arranged([], [], [(0, 20), (0, 30)]), "shape_not_estimable",
                 id="only intervals from new"),
    pytest.param(arranged([], [20, 30], [(0, 10), (0, 8)]), "no_finite_estimate",
                 id="found failed early, survivors late: falls for ever"),
    pytest.param(arranged([], [10, 25], [(0, 20), (15, 30)]), "few_failures",
                 id="intervals and survivors that overlap"),
    pytest.param(arranged(late=[(1, 1.1, 1.1), (1, 1.2, 1.2), (1, 1.3, 1.3), (1, 1.5, 1.5),
                                (1, 1.05, 1.05), (10, 200, INF), (9, 300, INF)]),
                 "no_finite_estimate", id="late entries, falling hazard (SurPyval #310)"),
    pytest.param(arrange_strata([], [], [], [], [], 1), "no_lives", id="no rows (lifelines #290)"),
    pytest.param(arranged([], [0.0], late=[(7, 7, INF)]), "no_lives",
                 id="suspended for no time observed"),
    pytest.param(arranged([1e-3, 1.0, 1e7]), "few_failures", id="ages from 1e-3 to 1e7"),
]


@pytest.mark.parametrize(("strata", "status"), CASES)
def test_outcome_is_stated(strata, status):
    fit = fit_arranged(strata)
    assert fit.status == [status]
    figures = [fit.shape, fit.characteristic_life, fit.log_likelihood, fit.score]
    has_estimate = status in ("ok", "few_failures")
    assert all(np.isfinite(figure[0]) == has_estimate for figure in figures)
    assert np.isfinite(fit.information).all() == has_estimate
    assert fit.has_estimate.tolist() == [has_estimate]
    for bounds in (likelihood_ratio_bounds(strata, fit), normal_bounds(fit)):
        for figure in (bounds.shape, bounds.characteristic_life, bounds.b_life):
            assert np.isnan(figure.lower).all() != has_estimate
            assert np.isnan(figure.upper).all() != has_estimate


def test_ties_of_failures_with_suspensions_are_no_error():
    """Kind of reliability #57: failures 4, five of 9, three of 15; 20 suspended at 15."""
    strata = arrange_strata([0] * 4, 0.0, [4, 9, 15, 15], [4, 9, 15, INF], [1, 5, 3, 20], 1)
    fit = fit_arranged(strata)
    found = optimize.minimize(
        lambda p: -log_likelihood(np.exp(p[0]), np.exp(p[1]), np.zeros(4), [4, 9, 15, 15],
                                  [4, 9, 15, INF], [1, 5, 3, 20]), [0.5, 3.0],
        method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12})
    assert_allclose([fit.shape[0], fit.characteristic_life[0]], np.exp(found.x), rtol=1e-6)
    assert fit.status == ["ok"]


def test_equal_failures_with_a_survivor_have_a_finite_shape():
    """(n + r) / r powers: two at 40 and one survivor at 55 solve 1 / b = 55^b ln(55/40) / S."""
    fit = fit_arranged(arranged([40, 40], [55]))
    b = fit.shape[0]
    assert 1.0 / b == pytest.approx(
        55**b * np.log(55 / 40) / (2 * 40**b + 55**b), rel=1e-8)


def test_one_bad_stratum_does_not_stop_the_others():
    fit = fit_strata([0, 2, 2, 2, 3, 3], 0.0, [75, 10, 20, 40, 5, 6], [75, 10, 20, INF, INF, INF],
                     1.0, 4)
    assert fit.status == ["shape_not_estimable", "no_lives", "few_failures", "no_failures"]
    alone = fit_strata([0] * 3, 0.0, [10, 20, 40], [10, 20, INF], 1.0, 1)
    assert fit.shape[2] == alone.shape[0]


def test_life_at_a_given_shape_divides_by_the_failures():
    """Kind of slightlynybbled/weibull #13."""
    found = life_at_shape(arranged([150, 310], [420, 420]), 2.0)
    assert_allclose(found.estimate, [np.sqrt((150**2 + 310**2 + 2 * 420**2) / 2)], rtol=1e-12)


def test_life_at_a_given_shape_for_one_oldest_failure():
    found = life_at_shape(arranged([731], [214, 402, 655]), 2.0)
    assert_allclose(found.estimate, [np.sqrt(731**2 + 214**2 + 402**2 + 655**2)], rtol=1e-12)


def test_zero_failure_bound():
    """Kind of SurPyval #249: 95 % lower limit sqrt(sum t^2 / ln 20) at shape 2."""
    found = life_at_shape(arranged([], [130, 260, 390]), 2.0, 0.90)
    assert_allclose(found.lower, [np.sqrt((130**2 + 260**2 + 390**2) / np.log(20))], rtol=1e-12)


def test_suspension_at_entry_changes_nothing_and_is_counted():
    """Kind of lifelines #1166."""
    with_it = fit_arranged(arranged([9, 14], late=[(6, 6, INF), (4, 17, 17)]))
    without = fit_arranged(arranged([9, 14], late=[(4, 17, 17)]))
    assert with_it.shape[0] == without.shape[0]
    assert with_it.n_unobserved.tolist() == [1.0]
    assert with_it.n_suspensions.tolist() == [0.0]


@pytest.mark.parametrize(("entry", "low", "high", "count", "message"), [
    (6.0, 6.0, 6.0, 1.0, "a failure must end after 0 and after its entry age; high, got 6.0"),
    (7.0, 5.0, 5.0, 1.0, "a failure must end after 0 and after its entry age"),
    (0.0, 0.0, 0.0, 1.0, "a failure must end after 0"),
    (0.0, -3.0, -3.0, 1.0, r"low must be >= 0 and finite, got -3.0 at index 1 \(1 of 2 rows\)"),
    (0.0, np.nan, np.nan, 1.0, "low must be >= 0"),
    (0.0, 9.0, 4.0, 1.0, "high must not be below low"),
    (-1.0, 9.0, 9.0, 1.0, "entry must be >= 0"),
    (0.0, 9.0, 9.0, 0.0, "count must be > 0"),
])
def test_impossible_lives_are_named(entry, low, high, count, message):
    with pytest.raises(FitError, match=message):
        fit_strata([0, 0], [0.0, entry], [5.0, low], [5.0, high], [1.0, count], 1)


def test_columns_and_strata_are_checked():
    with pytest.raises(FitError, match="group numbers must lie in 0 to 1"):
        fit_strata([0, 2], 0.0, [1.0, 2.0], [1.0, 2.0], 1.0, 2)
    with pytest.raises(FitError, match="high must have one value a row"):
        fit_strata([0, 1], 0.0, [1.0, 2.0], [1.0], 1.0, 2)


def test_which_parameter_is_which():
    """Kind of lifelines #375: 63.2 % have failed at the characteristic life."""
    assert survival(800.0, 2.0, 800.0) == pytest.approx(np.exp(-1))
    assert failure_probability(800.0, 2.0, 800.0) == pytest.approx(0.6321, abs=5e-5)
    assert mean_life(2.0, 800.0) == pytest.approx(800.0 * np.sqrt(np.pi) / 2)
    assert b_life(0.1, 2.0, 800.0) == pytest.approx(800.0 * np.sqrt(-np.log(0.9)))


def test_many_suspensions_and_one_failure_converge():
    rng = np.random.default_rng(3)
    held = rng.uniform(100.0, 200.0, 100_000)
    fit = fit_strata(np.zeros(held.size + 1, int), 0.0, np.append(held, 50.0),
                     np.append(np.full(held.size, INF), 50.0), 1.0, 1)
    assert fit.status == ["few_failures"]
    assert abs(fit.score[0]) < 1e-8
