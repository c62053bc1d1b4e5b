"""Which constructions may serve a place, and which two make a contrast."""

import math
from dataclasses import replace

import pytest

from etl.decide.eligibility import Candidate, Duty, derated_pressure_bar, objection
from etl.decide.trial.candidates import (
    Contrast,
    cautions,
    contrasting_pair,
    months_to_failures,
)

# Shares of the 20 degC rating for 316L: ISO 10380:2012, as quoted in a second-hand copy.
STEEL = {"316L": [(20, 1.0), (50, 0.88), (100, 0.74), (150, 0.67), (200, 0.62), (250, 0.58),
                  (300, 0.54)]}
DUTY = Duty(dn=40, pressure_bar=20, temperature_c=100, bend_radius_mm=300)
HOSE = Candidate("A", 40, "316L", 40, 250, 10.0, 2.0)


@pytest.mark.parametrize(
    ("rated", "temperature", "left"),
    [
        pytest.param(40, 175, 25.8, id="316L at 175 degC, ISO 10380:2012 table, interpolated"),
        pytest.param(40, 20, 40.0, id="reference temperature"),
        pytest.param(40, -60, 40.0, id="cold keeps the rating"),
        pytest.param(40, 301, None, id="above the table"),
    ],
)
def test_derated_pressure(rated, temperature, left):
    found = derated_pressure_bar(rated, STEEL["316L"], temperature)
    assert found == (None if left is None else pytest.approx(left, rel=1e-12))


@pytest.mark.parametrize(
    ("hose", "duty", "words"),
    [
        (HOSE, DUTY, None),
        (replace(HOSE, dn=50), DUTY, "made for DN 50"),
        (replace(HOSE, rated_pressure_bar=27), DUTY, "rated 20 bar at 100"),
        (replace(HOSE, rated_pressure_bar=None), DUTY, "no pressure rating"),
        (replace(HOSE, core_alloy="unobtainium"), DUTY, "no derating table"),
        (HOSE, replace(DUTY, temperature_c=500), "above the alloy's derating table"),
        (HOSE, replace(DUTY, pressure_bar=None), "does not give"),
        (replace(HOSE, min_bend_radius_dynamic_mm=310), DUTY, "needs a bend radius of 310"),
    ],
)
def test_objection_names_what_speaks_against(hose, duty, words):
    found = objection(hose, duty, STEEL)
    assert found is None if words is None else words in str(found)


def test_contrasting_pair_takes_the_extremes_that_suit():
    catalogue = [
        HOSE,
        replace(HOSE, construction="B", bending_stiffness_n_m2=4.0, mass_kg_per_m=1.5),
        replace(HOSE, construction="C", bending_stiffness_n_m2=30.0, mass_kg_per_m=3.0),
        replace(HOSE, construction="D", bending_stiffness_n_m2=90.0, rated_pressure_bar=10),
    ]
    found = contrasting_pair(catalogue, DUTY, STEEL)
    assert isinstance(found, Contrast)
    assert (found.flexible, found.stiff) == ("B", "C")
    assert found.stiffness_ratio == pytest.approx(7.5)
    assert found.mass_ratio == pytest.approx(2.0)
    assert contrasting_pair(catalogue[::-1], DUTY, STEEL) == found


def test_a_construction_listed_at_several_sizes_is_judged_at_the_size_of_the_place():
    sizes = [
        replace(hose, dn=dn)
        for hose in (HOSE, replace(HOSE, construction="B", bending_stiffness_n_m2=40.0))
        for dn in (25, 40, 80)
    ]
    found = contrasting_pair(sizes, DUTY, STEEL)
    assert isinstance(found, Contrast)
    assert (found.flexible, found.stiff) == ("A", "B")


@pytest.mark.parametrize(
    ("catalogue", "words"),
    [
        ([], "fewer than two"),
        ([HOSE], "fewer than two"),
        ([HOSE, replace(HOSE, construction="B", dn=50)], "made for DN 50"),
        ([HOSE, replace(HOSE, construction="B", bending_stiffness_n_m2=11)], "1.1-fold"),
    ],
)
def test_contrasting_pair_says_why_there_is_none(catalogue, words):
    found = contrasting_pair(catalogue, DUTY, STEEL)
    assert isinstance(found, str)
    assert words in found


def test_months_to_failures_without_failures_is_never():
    assert months_to_failures(0.0, 10) == math.inf


def test_hazardous_trials_ask_for_approval():
    assert "management of change" in cautions(["toxic"])
    assert "management of change" not in cautions([])
