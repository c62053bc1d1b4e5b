import tomllib

import pytest

from etl.errors import InputError
from etl.load.check import check_path, write_proposal
from etl.load.look import fitting_formats, is_ambiguous, look
from etl.load.mapping import parse_mapping
from etl.load.propose import guess_log
from tests.load.new_workbook import books

EXPORT = """Position;Removal date;Reason code;Cost of material;Pressure (psi)
P1;31.01.2020;BRKDN;1.234,50;10
P2;01.02.2020;planned;12,00;20
P3;02.02.2020;BRKDN;7,25;30
"""


def test_the_proposed_mapping_loads_the_file_once_it_is_written(site):
    site.write("export.csv", EXPORT.replace("Cost of material", "Part cost"))
    report = check_path(site.logs)
    assert report.n_refused == 1
    assert report.files[0].logs == ("replacements?",)
    assert write_proposal(site.logs, report) == "columns.toml"
    entry = tomllib.loads((site.logs / "columns.toml").read_text())["file"][0]
    assert entry["date_formats"] == ["%d.%m.%Y"]
    assert (entry["decimal"], entry["thousands"]) == (",", ".")
    assert entry["ignore"] == ["Pressure (psi)"]
    assert entry["columns"] == {"removed_on": "Removal date", "service_point": "Position",
                                "reason": "Reason code", "part_cost": "Part cost"}
    assert '# "BRKDN" = "..."   # 2 rows\n' in (site.logs / "columns.toml").read_text()
    site.load()
    assert site.status("export.csv") == ("loaded", None)
    assert check_path(site.logs).n_refused == 0
    assert write_proposal(site.logs, report) == "columns.proposed.toml"


@pytest.mark.parametrize(("name", "units"), [
    ("Pressure (psi)", {"pressure_bar": "psi"}), ("Pressure psig", {"pressure_bar": "psi"}),
    ("Pressure [MPA]", {"pressure_bar": "MPa"}), ("Temperature (F)", {"temperature_c": "degF"}),
    ("Temperature °F", {"temperature_c": "degF"}), ("temperature_fahrenheit",
                                                    {"temperature_c": "degF"}),
])
def test_a_unit_in_a_column_name_is_proposed(site, name, units):
    """How headings write units: common practice, no source."""
    site.write("places.csv", f"Place,Application,{name}\nP1,a,10\nP2,b,20.5\n")
    entry = tomllib.loads(check_path(site.logs).proposal)["file"][0]
    assert entry["log"] == "service_points"
    assert entry["units"] == units


@pytest.mark.parametrize("name", ["Pressure (bar)", "Temperature (C)", "Temperature °C"])
def test_a_column_name_that_states_the_stored_unit_needs_none(site, name):
    site.write("places.csv", f"Place,Application,{name}\nP1,a,10\nP2,b,20.5\n")
    assert "units" not in tomllib.loads(check_path(site.logs).proposal)["file"][0]


def test_day_and_month_are_never_guessed(site):
    site.write("replacements.csv", "removed_on,service_point,reason\n03/04/2025,P,failed\n")
    report = check_path(site.logs)
    assert "date_formats" not in tomllib.loads(report.proposal)["file"][0]
    assert 'day or month first? "03/04/2025" fits both' in report.proposal


def test_a_file_in_our_own_form_needs_no_mapping(site):
    site.write("installations.csv", "installed_on,service_point\n2020-01-01,P\n2020-01-02\n")
    report = check_path(site.logs / "installations.csv")
    assert report.proposal == ""
    assert report.n_refused == 1
    assert report.files[0].taken_as == {"installed_on": "installed_on",
                                        "service_point": "service_point"}
    assert "installed_on -> installed_on: days %Y-%m-%d" in report.text()
    assert report.as_dict()["files"][0]["n_unreadable"] == 1


def test_one_bad_file_does_not_hide_the_others(site):
    site.write("installations.csv", "")
    site.write("parts.csv", "part_number,construction\nN,c\n")
    bad, good = check_path(site.logs).files
    assert "is empty" in bad.messages[0]
    assert good.messages == ()


def test_nothing_to_check_is_said(site):
    with pytest.raises(InputError, match="no log files"):
        check_path(site.logs)


TWO_SHEETS = """
[[file]]
match = "hall.xlsx"
log = "service_points"
sheet = "Places"
ignore = ["Clerk"]
[file.columns]
service_point = "Pos"
[file.extract]
application_class = { column = "Pos", pattern = '(c1)' }
[[file]]
match = "hall.xlsx"
log = "installations"
sheet = "Hoses"
[file.columns]
installed_on = "Fitted"
service_point = "At"
"""


def test_each_entry_of_a_file_is_tried_on_the_sheet_that_it_names(site):
    site.write("hall.xlsx", books({
        "Notes": [["Fitted", "At", "Pos", "Clerk"]],
        "Hoses": [["Fitted", "At"], ["2020-01-31", "c1 P1"], ["2020-01-31", "c1 P2"]],
        "Places": [["Pos", "Clerk"], ["c1 P1", "A"]]}))
    site.write("columns.toml", TWO_SHEETS)
    [report] = check_path(site.logs).files
    assert report.messages == ()
    assert report.proposal == ""
    assert report.logs == ("service_points", "installations")
    assert report.n_records == 5
    assert report.taken_as == {"Pos": "service_point, application_class",
                               "Fitted": "installed_on", "At": "service_point"}
    assert [look.name for look in report.columns] == ["Pos", "Clerk", "Fitted", "At"]
    site.load()
    assert site.rows("select log, status from raw.loads order by log") == [
        ("installations", "loaded"), ("service_points", "loaded")]


def test_the_entry_that_does_not_fit_is_the_one_that_is_named(site):
    site.write("hall.xlsx", books({"Hoses": [["Fited", "At"], ["2020-01-31", "c1 P1"]],
                                   "Places": [["Pos", "Clerk"], ["c1 P1", "A"]]}))
    site.write("columns.toml", TWO_SHEETS)
    report = check_path(site.logs)
    [message] = report.files[0].messages
    assert "takes installed_on from column 'Fitted', which the file does not have" in message
    assert "Did you mean 'Fited'?" in message
    assert 'log = "installations"' in report.proposal


def test_one_file_read_by_two_delimiters_is_read_twice(site):
    site.write("mixed.csv", "a;b,installed_on,service_point\nc;d,2020-01-31,P1\n")
    site.write("columns.toml", """
[[file]]
match = "mixed.csv"
log = "service_points"
delimiter = ";"
ignore = ["b*"]
[file.columns]
service_point = "a"
[file.constants]
application_class = "x"
[[file]]
match = "mixed.csv"
log = "installations"
delimiter = ","
ignore = ["a*"]
""")
    [report] = check_path(site.logs).files
    assert report.messages == ()
    assert report.n_records == 4


@pytest.mark.parametrize(("cells", "formats"), [
    (["2020-01-31", "2020-02-01"], ("%Y-%m-%d",)),
    (["31/01/2020", "01/02/2020"], ("%d/%m/%Y",)),
    (["01/31/2020", "02/01/2020"], ("%m/%d/%Y",)),
    (["12/15/2011 3:38:26 PM"], ("%m/%d/%Y %I:%M:%S %p",)),
    (["31-Jan-20"], ("%d-%b-%y",)),
    (["31.01.2020"] * 3 + ["2020-02-01"] * 3, ("%Y-%m-%d", "%d.%m.%Y")),
    (["1", "2"], ()), (["x"], ()), (["1899-12-30"], ()),
])
def test_fitting_formats(cells, formats):
    assert fitting_formats(cells) == formats
    assert is_ambiguous(formats) is False


@pytest.mark.parametrize(("cells", "looks_like", "marks"), [
    (["1", "2.5", "-3"], "numbers", (".", "")), (["1,5", "2,25"], "numbers", (",", "")),
    (["1.234,5", "7,1"], "numbers", (",", ".")), (["1,234", "5,678.5"], "numbers", (".", ",")),
    (["yes", "No"], "yes or no", (None, None)), (["a", "b"], "text", (None, None)),
    ([], "empty", (None, None)),
])
def test_look(cells, looks_like, marks):
    found = look("x", [(cell, 1) for cell in cells], len(cells), len(cells))
    assert found.looks_like == looks_like
    assert (found.decimal, found.thousands) == marks


def test_names_with_odd_signs_are_proposed_so_that_the_proposal_can_be_read(site):
    """A zero byte and a bell in names: TOML knows neither as they are."""
    site.write("hoses.csv", 'installed_on\0,service_point,"C\x07lerk \\ ""x"""\n'
               "31.01.2020,P1,A\n01/02/2020,P2,B\n")
    entry = parse_mapping(check_path(site.logs).proposal).file[0]
    assert entry.columns["installed_on"] == "installed_on\0"
    assert entry.ignore == ['C\x07lerk \\ "x"']


@pytest.mark.parametrize(("name", "head", "log"), [
    ("replacements 2020.csv", "service_point,removed_on", "replacements"),
    ("export.csv", "Pos.,Date fitted,Serial", "installations"),
    ("export.csv", "Pos.,Date removed,Failure code", "replacements"),
])
def test_the_log_is_guessed_from_name_and_columns(name, head, log):
    looks = [look(column, [], 0, 0) for column in head.split(",")]
    assert guess_log(name, looks).name == log


def test_one_slip_does_not_hide_what_a_short_column_holds():
    assert fitting_formats(["31.01.2020", "01.02.2020", "03.02.2020", "32.01.2020"]) == (
        "%d.%m.%Y",)
    assert fitting_formats(["31.01.2020", "x"]) == ()


def test_only_the_unknown_one_of_several_words_is_proposed(site):
    head = "service_point,application_class,hazards\n"
    site.write("service_points.csv", head + 'P1,a,"hot, pressure"\nP2,a,toxic|hot\nP3,a,none\n')
    assert check_path(site.logs).proposal == ""
    site.write("service_points.csv", head + 'P1,a,"hot, presure"\nP2,a,presure\n')
    assert '# "presure" = "pressure"   # 2 rows; nearest known word: pressure' in check_path(
        site.logs).proposal
