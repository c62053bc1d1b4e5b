"""What is published of examined fits: a column for every figure, gaps where nothing is judged."""

import duckdb
import numpy as np
import pytest
from numpy.testing import assert_array_equal

from etl.build.standalone import Rows, fit_checks
from etl.life.examine import MOST_FAILURES
from etl.life.fit import fit_strata
from etl.load.warehouse import files_of
from tests.life.strata_maker import make_lives


def test_every_fit_has_a_row_and_small_ones_have_gaps():
    stratum, entry, low, high, count, _ = make_lives(96, 3, 400, 0.2)
    high = np.where((stratum == 1) & (np.arange(stratum.size) % 400 > 8), np.inf, high)
    rows = Rows(stratum, entry, low, high, count, 3)
    fit = fit_strata(stratum, entry, low, high, count, 3)
    found = fit_checks(rows, fit, 5, list("abc"))
    assert {values.shape for values in found.figures.values()} == {(3,)}
    figures = found.figures
    judged = figures["n_failures_judged"]
    assert np.isnan(judged).tolist() == [False, True, False]
    assert np.nanmax(judged) == MOST_FAILURES
    assert_array_equal(np.isnan(figures["anderson_darling_p_value"]), np.isnan(judged))
    assert found.outcomes[1] == "not_tried"
    located = [name in ("estimate", "from_new") for name in found.outcomes]
    assert_array_equal(np.isfinite(figures["three_parameter_location_days"]), located)
    p = figures["plot_correlation_p_value"]
    assert np.all((p[[0, 2]] > 0.0) & (p[[0, 2]] <= 1.0))


@pytest.fixture
def con():
    """One good row of what is published."""
    con = duckdb.connect()
    con.execute("create schema results")
    con.execute("""create table results.fit_tests as select 'steam' as application_class,
        'C-1' as construction, 'all' as mechanism, 40 as n_failures_judged,
        5e-1 as anderson_darling, 2e-1 as anderson_darling_p_value, 98e-2 as plot_correlation,
        3e-1 as plot_correlation_p_value, 'estimate' as three_parameter_outcome,
        12e0 as three_parameter_location_days, 15e-1 as three_parameter_shape,
        9e2 as three_parameter_scale_days, 4e-1 as mixture_p_value, 2e-1 as mixture_early_share,
        5e1 as mixture_early_life_days, 9e2 as mixture_late_life_days""")
    yield con
    con.close()


@pytest.mark.parametrize("change", [
    "anderson_darling_p_value = 1.2", "anderson_darling_p_value = null", "anderson_darling = -1",
    "plot_correlation = 1.1", "plot_correlation_p_value = -0.1",
    "three_parameter_location_days = null", "three_parameter_outcome = 'no_finite_estimate'",
    "three_parameter_shape = 0", "mixture_p_value = 2", "mixture_p_value = null",
    "mixture_early_share = 1.5", "mixture_early_life_days = 1000"])
def test_the_check_of_published_rows_fires_on_a_bad_row_and_only_then(con, change):
    (file,) = [file for file in files_of("checks") if file.stem == "fit_tests_numbers"]
    text = file.read_text(encoding="utf-8")
    assert con.execute(text).fetchall() == []
    con.execute(f"update results.fit_tests set {change}")
    assert len(con.execute(text).fetchall()) == 1
