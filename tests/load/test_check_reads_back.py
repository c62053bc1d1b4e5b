"""What check proposes is what a load reads: no column without a name, no form that fits by half."""

import pytest

from etl.load.check import check_path, write_proposal
from etl.load.look import look
from etl.load.mapping import parse_mapping
from etl.load.trial_run import try_rows

PLACES = "service_point,application_class\nP1,a\n"


def tried(site, content):
    site.write("service_points.csv", PLACES)
    site.write("installations.csv", content)
    report = check_path(site.logs)
    try_rows(site.logs, report)
    return report


def test_a_column_without_a_name_is_not_proposed_but_said_to_be_missing(site):
    report = tried(site, ";service_point\n03.04.2020;P1\n13.04.2020;P1\n")
    assert "column 1" not in report.proposal
    assert '# installed_on = "..."   # required' in report.proposal
    assert parse_mapping(report.proposal).file[0].columns == {"service_point": "service_point"}


def test_a_column_that_is_called_as_one_without_a_name_is_left_aside(site):
    report = tried(site, "Fitted;service_point;column 3\n03.04.2020;P1;x\n13.04.2020;P1;y\n")
    assert 'ignore = ["column 3"]' in report.proposal
    write_proposal(site.logs, report)
    again = check_path(site.logs)
    try_rows(site.logs, again)
    assert [file.messages for file in again.files] == [(), ()]
    assert [file.rows for file in again.files] == [file.rows for file in report.files]


@pytest.mark.parametrize("cells", [
    ["3.  Mar 2020", "13.  Apr 2020"], ["3.\u00a0Mar 2020", "13.\u00a0Apr 2020"],
    ["\u300003.04.2020"], ["\u0660\u0663.\u0660\u0664.\u0662\u0660\u0662\u0660"],
])
def test_a_form_is_proposed_only_where_the_reader_takes_the_cells(cells):
    """Python's own reading of days takes any blanks and the digits of any script."""
    assert look("Out", [(cell, 1) for cell in cells], len(cells), len(cells)).date_formats == ()


def test_numbers_in_digits_of_another_script_are_no_numbers():
    assert look("Cost", [("\u0661\u0662", 1)], 1, 1).looks_like == "text"


def test_cells_of_blanks_of_any_kind_are_no_cells():
    cells = [("\u00a0", 9), ("\t", 4), ("03.04.2020", 1)]
    assert look("Out", cells, 14, 3).date_formats == ("%d.%m.%Y",)
