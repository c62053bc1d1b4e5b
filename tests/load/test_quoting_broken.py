"""Quotes and delimiters that were written wrongly shift no cell unseen.

Found in a real export of work orders: quotes escaped by a backslash, and a text with a comma that
was not quoted, in a file of which every record happened to have the right number of cells.
"""

import pytest

from etl.load.typing import build_clean

HEAD = "removed_on,service_point,reason,mechanism,part_cost,work_order\n"
GOOD = "2020-01-31,P1,failed,leak,12.50,W1\n"


def load(site, rows):
    site.write("service_points.csv", "service_point,application_class\nP1,a\n")
    site.write("replacements.csv", HEAD + rows)
    site.load()
    build_clean(site.con, site.groups)


@pytest.mark.parametrize(("row", "mechanism"), [
    (r'2020-02-01,P1,failed,"replace \h\"" ring",3,W2', r'replace \h\" ring'),
    (r'2020-02-01,P1,failed,"at \side\""",3,W2', r'at \side\"'),
    (r'2020-02-01,P1,failed,back\slash,3,W2', r'back\slash'),
    ('2020-02-01,P1,failed,3/4" pipe,3,W2', '3/4" pipe'),
    ('2020-02-01,P1,failed,"3/4"" pipe",3,W2', '3/4" pipe'),
    ("2020-02-01,P1,failed,won't shut,3,W2", "won't shut"),
])
def test_a_cell_with_odd_signs_keeps_them_and_its_neighbours(site, row, mechanism):
    load(site, GOOD + row + "\n" + GOOD.replace("01-31", "03-01"))
    assert site.rows("select mechanism, part_cost::varchar, work_order from clean.replacements"
                     " where removed_on = date '2020-02-01'") == [(mechanism, "3.00", "W2")]
    assert site.rows("select count(*) from clean.replacements") == [(3,)]


@pytest.mark.parametrize(("row", "table", "column", "value", "reason"), [
    ("2020-02-01,P1,won,t shut,9.50,W2", "refused", "reason", "won",
     "is not one of the known words"),
    ("2020-02-01,P1,north,failed,leak,9.50", "refused", "reason", "north",
     "is not one of the known words"),
    ('2020-02-01,P1,failed,"MECH, \\HYD\\""",W2,', "refused_cells", "part_cost", "W2",
     "is not an amount"),
])
def test_cells_that_moved_by_one_are_caught_by_their_kinds(
    site, row, table, column, value, reason
):
    load(site, GOOD + row + "\n")
    assert (3, column, value, reason) in site.rows(
        f"select source_row, column_name, value, reason from clean.{table}")
    assert site.rows("select count(*), sum(part_cost)::varchar from clean.replacements"
                     " where part_cost is not null") == [(1, "12.50")]


@pytest.mark.parametrize(("row", "reason"), [
    ("2020-02-01,P1,failed,won,t shut,9.50,W2", "more cells than the header names"),
    ("2020-02-01,P1,failed,leak", "fewer cells than the header names"),
    ('2020-02-01,P1,failed,"leak" again,9.50,W2', "text after a closing quote"),
])
def test_a_row_with_another_number_of_cells_is_refused_alone(site, row, reason):
    load(site, GOOD + row + "\n" + GOOD.replace("01-31", "03-01"))
    assert site.rows("select source_row, reason from clean.refused") == [(3, reason)]
    assert site.rows("select count(*) from clean.replacements") == [(2,)]


def test_a_file_of_quotes_alone_is_refused_in_few_words(site):
    site.write("replacements.csv", '"' * 1_000_000)
    site.load()
    assert "which is no column name. Close the quotes" in site.refusal("replacements.csv")
    assert len(site.refusal("replacements.csv")) < 300
