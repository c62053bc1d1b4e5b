"""The block that says whether the Weibull is the law of a kind's lives."""

import json

import plotly
import pytest

from dashboard.parts.kind import law
from tests.dashboard.page_reader import words

CELL = "/lives/homogeniser%20discharge/C-304-OP1"
FIT = {"mechanism": "all", "n_failures": 40, "n_suspensions": 10}


def second(**given):
    return {
        "n_failures_judged": 40, "anderson_darling_p_value": 0.34,
        "plot_correlation_p_value": 0.5, "three_parameter_outcome": "from_new",
        "three_parameter_location_days": 0.0, "aicc_weibull": 100.0,
        "aicc_three_parameter": 101.0, "mixture_p_value": None, "mixture_early_share": None,
        "mixture_early_life_days": None, "mixture_late_life_days": None} | given


def said(given, points=(), fit=FIT):
    block = law.block(fit, given, points, None)
    return " ".join(words(json.loads(json.dumps(block, cls=plotly.utils.PlotlyJSONEncoder))))


def test_a_fit_that_nothing_speaks_against():
    text = said(second())
    assert "No reason to doubt the line" in text
    assert "34\xa0% look as odd or odder" in text
    assert "fail from new on" in text
    assert "Two populations" not in text
    assert "40 failed, 10 not" in text


def test_a_poor_fit_is_called_so_and_points_at_the_youngest_failures():
    text = said(second(anderson_darling_p_value=0.01, plot_correlation_p_value=0.02),
                [{"age": 800.0}, {"age": 0.5}])
    assert "does not describe these lives well" in text
    assert "first failure came at 1 day" in text
    assert "p = 0.01" in text


@pytest.mark.parametrize(("given", "part"), [
    ({"three_parameter_outcome": "estimate", "three_parameter_location_days": 310.0,
      "aicc_three_parameter": 92.0}, "clearly better (by 8.0 Akaike points). No age is safe"),
    ({"three_parameter_outcome": "estimate", "three_parameter_location_days": 310.0,
      "aicc_three_parameter": 99.0}, "no better: the data cannot tell"),
    ({"three_parameter_outcome": "no_finite_estimate", "three_parameter_location_days": None,
      "aicc_three_parameter": None}, "Cannot be estimated"),
])
def test_a_later_start_is_told_with_its_doubt(given, part):
    assert part in said(second(**given))


def test_two_populations_are_a_suspicion_with_its_other_causes():
    two = {"mixture_early_share": 0.12, "mixture_early_life_days": 60.0,
           "mixture_late_life_days": 900.0}
    text = said(second(mixture_p_value=0.004, **two))
    assert "Suspected: about 12\xa0% of these hoses" in text
    assert "a second mechanism or two duties" in text
    assert "two of them alone can look so" in text
    assert "two of them alone" not in said(
        second(mixture_p_value=0.004, **two), fit=FIT | {"mechanism": "braid_wear"})
    assert "none found that chance alone could not make" in said(
        second(mixture_p_value=0.4, **two))
    assert "none found" in said(second(mixture_p_value=1.0))


def test_what_is_not_judged_says_why():
    assert "there are 4 failures" in said(None, fit=FIT | {"n_failures": 4})
    assert "looked at on the same days of their lives" in said(second(n_failures_judged=None))
    text = said(second(n_failures_judged=150), fit=FIT | {"n_failures": 2400})
    assert "about 150 of 2,400 failures, drawn at random" in text


def test_the_page_shows_the_block_of_the_chosen_mechanism(full):
    text = full.text(CELL)
    assert "Is it a Weibull life?" in text
    assert "The plotted points bend or straggle" in text
    assert "Suspected: about 12" in text
    few = full.text(CELL + "?mechanism=braid_wear")
    assert "Ten failures are needed" in few
    assert "Suspected" not in few
