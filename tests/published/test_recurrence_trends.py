"""Trends of recurrent failures against published and computed figures; ids name the source.

The history is that of a ship's diesel engine in thousand hours, 71 unscheduled repairs, watched to
25.5181 (data of Ascher and Feingold, 1984, as given by the R package SMRD).
"""

import csv

import numpy as np
import pytest

from etl.life.power_law import fit_power_law, total_log, total_log_trend
from etl.life.recurrence import gap_trend, laplace_trend
from tests.life.test_power_law import HANDBOOK, THREE_SYSTEMS, systems
from tests.published.lives_data import DATA

END = 25.5181


def engine():
    with (DATA / "halfbeak.csv").open(encoding="utf-8") as file:
        return np.array([float(row["thousand_hours"]) for row in csv.DictReader(file)])


@pytest.mark.parametrize(("shape", "scale"), [
    pytest.param(2.76, 5.45, id="Meeker and Escobar 1998 ch. 16, submarine diesel (from memory)")])
def test_power_law_of_the_engine(shape, scale):
    ages = engine()
    fit = fit_power_law(np.zeros(ages.size, int), ages, [END])
    assert fit.shape == pytest.approx(shape, abs=5e-3)
    assert fit.scale ** (-1.0 / fit.shape) == pytest.approx(scale, abs=5e-3)


@pytest.mark.parametrize(("n_last", "end", "laplace", "logs"), [
    pytest.param(71, END, 7.595954065, 51.44350297, id="computed here, ended by time"),
    pytest.param(70, 25.518, 7.443086388, 51.4429465, id="computed here, ended by a failure"),
])
def test_trend_statistics_of_the_engine(n_last, end, laplace, logs):
    ages = engine()[:n_last]
    found = laplace_trend(np.zeros(ages.size, int), ages, [end])
    assert found.statistic == pytest.approx(laplace, rel=1e-6)
    assert total_log(np.full(ages.size, end), ages) == pytest.approx(logs, rel=1e-6)
    assert total_log_trend(np.zeros(ages.size, int), ages, [end]).statistic > 3.0


@pytest.mark.parametrize("statistic", [
    pytest.param(4.703503583, id="computed here, Laplace over the variation of the gaps")])
def test_trend_of_the_gaps_of_the_engine(statistic):
    assert gap_trend(engine(), END).statistic == pytest.approx(statistic, rel=1e-6)


@pytest.mark.parametrize("statistic", [
    pytest.param(-3.012036354, id="computed here on Crow 1975, three systems, pooled Laplace")])
def test_pooled_laplace_of_three_systems(statistic):
    found = laplace_trend(*systems(THREE_SYSTEMS, 200))
    assert found.statistic == pytest.approx(statistic, rel=1e-6)


@pytest.mark.parametrize("hours", [
    pytest.param(15.5, id="MIL-HDBK-189 1981, 27 failures in 300 h, hours at 300 h (from memory)")])
def test_time_between_failures_at_the_end(hours):
    fit = fit_power_law(*systems([HANDBOOK], 300))
    assert 1.0 / (fit.scale * fit.shape * 300 ** (fit.shape - 1)) == pytest.approx(hours, abs=0.05)
