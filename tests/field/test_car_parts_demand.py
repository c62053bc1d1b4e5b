"""Monthly demand for car parts, one column a part: no log of ours, but a table to read whole.

Source: package expsmooth (GPL-3), data set carparts; Hyndman, Koehler, Ord and Snyder (2008),
Forecasting with Exponential Smoothing, Springer. Counts are facts of the file.
"""

import pytest

from etl.load import warehouse
from etl.load.check import check_path
from etl.load.delimited import Job
from etl.load.extract import Dialect, Wanted
from etl.load.readers import read

pytestmark = pytest.mark.field
NAME = "carparts_monthly_wide.csv"


def test_a_table_of_thousands_of_columns_loses_no_row_and_no_cell(field_data, tmp_path):
    """51 months of 2,674 parts, 66,194 pieces in all, 6,122 cells empty."""
    with warehouse.connect() as con:
        extract = read(Job(con, field_data / "car_parts_demand" / NAME, NAME, "raw.one", tmp_path,
                           Wanted(), Dialect()))
        assert len(extract.header) == 2_675
        assert (extract.header[0], extract.header[1]) == ("month", "21029627")
        rows = con.execute(f"select columns('c[0-9]+') from {extract.table}").fetchall()
    assert len(rows) == 51
    cells = [cell for row in rows for cell in row[1:]]
    known = [float(cell) for cell in cells if cell not in (None, "NA")]
    assert (sum(known), len(cells) - len(known)) == (66_194, 6_122)


def test_it_is_no_log_and_that_is_said(field_data):
    [file] = check_path(field_data / "car_parts_demand" / NAME).files
    assert file.logs == ()
    assert "its name begins with no log's name" in file.messages[0]
