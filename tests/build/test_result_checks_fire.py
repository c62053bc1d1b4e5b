"""Each check of comparisons, recurrence and survival passes on the demo and fires on a bad row."""

import duckdb
import pytest

from etl.load.publish import current_edition
from etl.load.warehouse import files_of

TABLES = ("life_comparisons", "fits", "mean_cumulative_failures", "recurrence_trends",
          "place_survival")
ONE = "where rowid = (select min(rowid) from results.{table} where {known} is not null)"


@pytest.fixture
def con(demo_store):
    """Copies of published tables, free to be spoiled."""
    con = duckdb.connect()
    con.execute(f"attach '{current_edition(demo_store)}' as edition (read_only)")
    con.execute("create schema results")
    for table in TABLES:
        con.execute(f"create table results.{table} as from edition.{table}")
    yield con
    con.close()


def faulty(con, check):
    file = next(file for file in files_of("checks") if file.stem == check)
    return con.execute(file.read_text(encoding="utf-8")).fetchall()


@pytest.mark.parametrize(("check", "table", "known", "change"), [
    ("comparisons_numbers", "life_comparisons", "b10_ratio", "b10_ratio = b10_ratio_upper * 2"),
    ("comparisons_numbers", "life_comparisons", "b10_ratio", "longer_b10_probability = 1.2"),
    ("comparisons_numbers", "life_comparisons", "shape_ratio", "shape_ratio_lower = 1e9"),
    ("comparisons_numbers", "life_comparisons", "b10_ratio",
     "other_construction = construction, other_application_class = application_class"),
    ("comparisons_numbers", "life_comparisons", "log_rank_p_value", "log_rank_p_value = -0.1"),
    ("comparisons_counts", "life_comparisons", "b10_ratio", "n_failures = n_failures + 1"),
    ("comparisons_counts", "life_comparisons", "b10_ratio", "mechanism = 'nothing known'"),
    ("recurrence_numbers", "mean_cumulative_failures", "mean", "mean = upper + 1"),
    ("recurrence_numbers", "mean_cumulative_failures", "mean", "mean = 'nan'"),
    ("recurrence_numbers", "recurrence_trends", "shape", "shape = -1"),
    ("recurrence_numbers", "recurrence_trends", "shape", "laplace_p_value = 2"),
    ("place_survival_falls", "place_survival", "survival", "survival = 1.5"),
    ("place_survival_falls", "place_survival", "survival", "survival_upper = 0.1"),
])
def test_a_check_fires_on_a_bad_row_and_only_then(con, check, table, known, change):
    assert faulty(con, check) == []
    where = ONE.format(table=table, known=known)
    con.execute(f"update results.{table} set {change} {where}")
    assert len(faulty(con, check)) >= 1
