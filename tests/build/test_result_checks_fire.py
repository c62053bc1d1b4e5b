"""Each check of comparisons, recurrence and survival passes on the demo and fires on a bad row."""

import pytest

from tests.build.spoiled import copies, faulty

TABLES = ("life_comparisons", "fits", "mean_cumulative_failures", "recurrence_trends",
          "place_survival", "free_survival", "clock_fits", "group_mean_failures", "group_trends")
ONE = "where rowid = (select min(rowid) from results.{table} where {known} is not null)"


@pytest.fixture
def con(edition_file):
    with copies(edition_file, TABLES) as con:
        yield con


@pytest.mark.parametrize(("check", "table", "known", "change"), [
    ("comparisons_numbers", "life_comparisons", "b10_ratio", "b10_ratio = b10_ratio_upper * 2"),
    ("comparisons_numbers", "life_comparisons", "b10_ratio", "longer_b10_probability = 1.2"),
    ("comparisons_numbers", "life_comparisons", "shape_ratio", "shape_ratio_lower = 1e9"),
    ("comparisons_numbers", "life_comparisons", "b10_ratio",
     "other_construction = construction, other_application_class = application_class"),
    ("comparisons_numbers", "life_comparisons", "log_rank_p_value", "log_rank_p_value = -0.1"),
    ("comparisons_numbers", "life_comparisons", "log_rank_late_p_value",
     "log_rank_late_p_value = 1.5"),
    ("comparisons_counts", "life_comparisons", "b10_ratio", "n_failures = n_failures + 1"),
    ("comparisons_counts", "life_comparisons", "b10_ratio", "mechanism = 'nothing known'"),
    ("recurrence_numbers", "mean_cumulative_failures", "mean", "mean = upper + 1"),
    ("recurrence_numbers", "mean_cumulative_failures", "mean", "mean = 'nan'"),
    ("recurrence_numbers", "recurrence_trends", "shape", "shape = -1"),
    ("recurrence_numbers", "recurrence_trends", "shape", "laplace_p_value = 2"),
    ("group_recurrence_numbers", "group_mean_failures", "mean", "mean = upper + 1"),
    ("group_recurrence_numbers", "group_mean_failures", "mean", "mean = 'nan'"),
    ("group_recurrence_numbers", "group_trends", "shape", "shape = -1"),
    ("group_recurrence_numbers", "group_trends", "shape", "total_log_p_value = 2"),
    ("expected_failures", "fits", "failures_expected",
     "failures_expected = failures_expected_upper * 2 + 1"),
    ("expected_failures", "fits", "failures_expected", "expected_p_value = 1.5"),
    ("clock_fits_counts", "clock_fits", "clock", "n_lives = n_lives + 1"),
    ("clock_fits_counts", "clock_fits", "clock", "n_left_out = n_left_out - 1"),
    ("clock_fits_counts", "clock_fits", "clock",
     "n_not_run = n_not_run + 1, n_without_meter = n_without_meter - 2"),
    ("clock_fits_counts", "clock_fits", "case when mechanism = 'all' then b10 end",
     "n_left_out_failures = n_left_out_failures + 1"),
    ("clock_fits_numbers", "clock_fits", "b10", "b10 = b10_upper * 2"),
    ("clock_fits_numbers", "clock_fits", "shape", "shape = 'nan'"),
    ("clock_fits_numbers", "clock_fits", "characteristic_life_lower",
     "characteristic_life_lower = characteristic_life * 2"),
    ("free_survival_numbers", "free_survival", "end_days", "end_days = start_days - 1"),
    ("free_survival_numbers", "free_survival", "failed_share", "failed_share = failed_share / 2"),
    ("place_survival_falls", "place_survival", "survival", "survival = 1.5"),
    ("place_survival_falls", "place_survival", "survival", "survival_upper = 0.1"),
])
def test_a_check_fires_on_a_bad_row_and_only_then(con, check, table, known, change):
    assert faulty(con, check) == []
    where = ONE.format(table=table, known=known)
    con.execute(f"update results.{table} set {change} {where}")
    assert len(faulty(con, check)) >= 1
