"""Where nothing that was given can be loaded, the command names each file, why, and what to do."""

import pytest

from etl.errors import InputError
from etl.load.nothing import MOST_FILES
from etl.load.raw import load_raw
from etl.load.typing import build_clean
from etl.load.warehouse import connect
from tests.load.new_workbook import book

REGISTER = "service_point,application_class\nP1,loop\n"


@pytest.fixture
def said_of(braidlife, tmp_path):
    """Function that returns what a load of files, by name and content, says where it fails."""
    def said(*options, **files):
        logs = tmp_path / "logs"
        logs.mkdir()
        for name, content in files.items():
            (logs / name.replace("_csv", ".csv").replace("_xlsx", ".xlsx")).write_bytes(
                content if isinstance(content, bytes) else content.encode())
        done = braidlife("load", logs, "--store", tmp_path / "s", *options)
        assert (done.returncode, "Traceback" in done.stderr) == (2, False), done.stderr
        return " ".join(done.stderr.split())

    return said


@pytest.mark.parametrize("options", [(), ("--as-of", "2024-01-01")], ids=["", "with a data date"])
def test_a_folder_of_refused_files_names_each_of_them_first(said_of, options):
    said = said_of(*options, export_csv="a,b\n1,2\n", parts_xlsx=b"this is no workbook",
                   installations_csv="installed_on,servce_point\n2020-01-01,P1\n")
    for words in ("export.csv: its name begins with no log's name", "parts.xlsx: its content is"
                  " text", "installations.csv: Required column service_point of installations is"
                  " missing", "braidlife check"):
        assert words in said
    assert "no readable date" not in said


def test_of_many_refused_files_the_rest_is_counted(said_of):
    said = said_of(**{f"x{n}_csv": "a,b\n1,2\n" + str(n) for n in range(MOST_FILES + 3)})
    assert said.count("begins with no log's name") == MOST_FILES
    assert "and 3 more" in said


def test_a_register_beside_a_refused_log_names_the_log(said_of):
    said = said_of(service_points_csv=REGISTER,
                   installations_xlsx=book([["Fitted", "At"], ["2020-01-01", "P1"]]))
    assert "no readable date" in said
    assert "installations.xlsx: Required column" in said


@pytest.mark.parametrize(("rows", "words"), [
    ("03/04/2020,P1\n05/06/2020,P1\n", ("2 rows are refused",
     "installations.csv row 2: installed_on '03/04/2020' is not a date")),
    ("2020-01-01\n", ("1 row is refused", "installations.csv row 2: the row '2020-01-01'")),
], ids=["no days", "too few cells"])
def test_rows_that_are_refused_are_named(said_of, rows, words):
    said = said_of(service_points_csv=REGISTER,
                   installations_csv="installed_on,service_point\n" + rows)
    for word in ("no readable date", *words, "braidlife check"):
        assert word in said


def test_logs_without_a_day_ask_for_one(said_of):
    assert "Add installations or replacements, or give --as-of" in said_of(
        service_points_csv=REGISTER)


def test_a_file_that_may_not_be_read_is_named_before_an_empty_store(tmp_path, monkeypatch):
    from etl import refresh

    def refuse(path):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("etl.load.once.digest", refuse)
    (tmp_path / "installations.csv").write_text("installed_on,service_point\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"installations\.csv: not readable"):
        refresh.load(tmp_path / "installations.csv", tmp_path / "s")


def test_entries_alone_without_a_day_are_told_too(tmp_path):
    with connect() as con:
        groups = load_raw(con, tmp_path)
        with pytest.raises(InputError, match="no readable date"):
            build_clean(con, groups)
