"""An uploaded file is looked at within limits, and nothing of it stays."""

import tempfile
from pathlib import Path

import pytest

from etl.entry import look as module
from etl.entry.look import look, safe_name
from etl.errors import InputError
from etl.load.mapping import parse_mapping

FILE = b"removed_on,service_point,reason\n2026-01-01,P 1,failed\n2026-01-02,P 2,failed\nx,P 1,y\n"


@pytest.mark.parametrize(("given", "kept"), [
    ("replacements.csv", "replacements.csv"), ("../../../etc/usage.tsv", "usage.tsv"),
    ("C:\\a\\parts.xlsx", "parts.xlsx"), ("a\0b\n/stock\r.csv", "stock.csv"),
    ("..%2f..%2fx.csv", "%2f..%2fx.csv"), (".~lock.csv", "lock.csv"),
    ("x" * 300 + ".csv", "x" * 116 + ".csv"), ("'; rm -rf ~; .csv", "'; rm -rf ~; .csv"),
])
def test_a_name_is_a_name_without_folders(given, kept):
    assert safe_name(given) == kept
    assert Path(safe_name(given)).name == safe_name(given)


@pytest.mark.parametrize("name", ["", ".csv", "columns.toml", "x.exe", "a/", "..", "x.csv/..",
                                  "notes.txt"])
def test_a_name_without_the_ending_of_a_log_is_refused(name):
    with pytest.raises(InputError, match="must end in"):
        safe_name(name)


def test_the_rows_are_checked_against_the_places_of_the_store():
    report = look("../replacements.csv", FILE, ["P 1", "<b>"])
    (file,) = report["files"]
    assert (file["file"], file["logs"]) == ("replacements.csv", ["replacements"])
    assert [(rows["n_kept"], rows["n_refused"]) for rows in file["rows"]] == [(1, 2)]
    assert {(row["source_row"], row["column_name"]) for row in report["refused"]} == {
        (3, "service_point"), (4, "removed_on"), (4, "reason")}
    assert report["n_faults"] == 3


def test_a_register_is_not_checked_against_itself():
    report = look("service_points.csv", b"service_point,application_class\nNew,loop\n", ["P 1"])
    assert report["refused"] == []
    assert [rows["n_kept"] for file in report["files"] for rows in file["rows"]] == [1]


@pytest.mark.parametrize(("name", "content"), [
    ("replacements.csv", b""), ("replacements.csv", b"\0" * 500),
    ("replacements.csv", b"\xff\xfe\x00\xd8"), ("replacements.xlsx", b"PK\x03\x04 no workbook"),
    ("replacements.parquet", b"PAR1")])
def test_rubbish_is_told_to_be_rubbish(name, content):
    report = look(name, content, ["P 1"])
    assert report["files"][0]["messages"] or report["refused"]


def test_a_file_that_takes_too_long_is_given_up_and_leaves_nothing(monkeypatch, tmp_path):
    monkeypatch.setattr(module, "LONGEST_S", 0.2)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    with pytest.raises(InputError, match="more time or memory"):
        look("replacements.csv", FILE)
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_needs_too_much_memory_is_given_up(monkeypatch):
    monkeypatch.setattr(module, "MEMORY_BYTES", 250_000_000)
    with pytest.raises(InputError, match="more time or memory"):
        look("replacements.csv", FILE)


def test_a_cell_as_large_as_a_book_comes_back_short():
    content = FILE + b"2026-01-02,P 1," + b"x" * 900_000
    assert len(str(look("replacements.csv", content, ["P 1"]))) < 20_000


def test_a_file_that_is_too_large_is_refused(monkeypatch):
    monkeypatch.setattr(module, "LARGEST", 10)
    with pytest.raises(InputError, match="can be looked at here"):
        look("replacements.csv", FILE)


def test_a_proposal_comes_back_with_a_long_line_of_many_columns_left_aside():
    names = [f"remark number {n}" for n in range(60)]
    content = ";".join(["removed_on", "service_point", "reason", *names]) + "\n" + ";".join(
        ["31.01.2024", "P 1", "failed", *["x"] * 60]) + "\n"
    found = look("replacements.csv", content.encode(), ["P 1"])
    (entry,) = parse_mapping(found["proposal"]).file
    assert set(names) <= {*entry.ignore, *entry.columns.values()}
