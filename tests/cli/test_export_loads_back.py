"""The cleaned logs of a store, exported and loaded into a fresh one, give the same fleet."""

import re

import pytest

from etl import run, sheets
from etl.errors import InputError
from etl.load.columns import LOGS
from etl.load.own_export import WHAT
from etl.sheets import Sheet, book
from tests.faults.small import new_store, tables, write_logs

UGLY = {
    "service_points.csv": "service_point,application_class,site,medium\n"
    "00012,loop,=1+1,a\u00a0b\n+49,loop,@x,\"new\nline\"\n@x,drum,-5,🔥 hot\n"
    "-5,drum,north,\u05de\u05d9\u05dd\n'=q,drum,north,\"a;=b\"\n=1+1,drum,\"x\n-y\",\"a;'=b\"\n"
    "''=2,drum,'x,\uff1d1234567890\n",
    "parts.csv": "part_number,construction,unit_price\n00123,C-1,12.50\n-124,+C,20.00\n",
    "installations.csv": "installed_on,service_point,hose_id,construction,part_number\n"
    "2020-01-01,00012,007,C-1,00123\n2020-06-01,00012,+8,C-1,00123\n"
    "2020-01-01,+49,-10,C-1,00123\n2020-03-01,@x,@11,+C,-124\n2020-04-01,-5,012,+C,-124\n"
    "2020-04-01,'=q,'=13,+C,-124\n2020-05-01,=1+1,14 a,+C,-124\n",
    "replacements.csv": "removed_on,service_point,hose_id,reason,mechanism,downtime_h,work_order\n"
    "2020-06-01,00012,007,failed,vibration fatigue,3.5,=1+1\n2021-05-05,+49,-10,planned,,0.1,\n"
    "2021-07-01,@x,@11,failed,corrosion,4,\"two\n@here\"\n2020-09-01,'=q,'=13,failed,,1,'x\n",
}
OF_THE_FILES = {"loads", "corrections", "log_rows", "archived_files"}
"""Published tables that tell of the files themselves."""


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    folder = tmp_path_factory.mktemp("back")
    store = new_store(folder / "store")
    run.load(write_logs(folder / "logs", UGLY), store)
    return store


@pytest.mark.parametrize("ending", ["csv", "xlsx", "parquet"])
def test_exported_logs_give_the_same_fleet_again(store, tmp_path, ending):
    (tmp_path / "out").mkdir()
    for log in LOGS:
        out = tmp_path / "out" / f"{log}.{ending}"
        if not run.export(store, f"clean.{log}", out):
            out.unlink()
    again = new_store(tmp_path / "again")
    outcome = run.load(tmp_path / "out", again)
    assert (outcome.n_refused, outcome.refused_files) == (0, ())
    before, after = tables(store), tables(again)
    for name in before.keys() - OF_THE_FILES:
        assert without_file(after[name]) == without_file(before[name]), name


def without_file(rows):
    """Leave out from which ending of a file a row came."""
    return [tuple(cell.rsplit(".", 1)[0] if isinstance(cell, str) and cell.startswith(
        tuple(f"{log}." for log in LOGS)) else cell for cell in row) for row in rows]


def test_what_was_taken_off_is_counted(store, tmp_path):
    run.export(store, "clean.parts", tmp_path / "parts.csv")
    told = run.check(tmp_path / "parts.csv").files[0]
    assert told.messages == ()
    assert {(item.column_name, item.n_cells) for item in told.corrections
            if item.what == WHAT} == {("part_number", 1), ("construction", 1)}


def test_an_apostrophe_of_a_site_s_own_stays(tmp_path):
    logs = write_logs(tmp_path / "logs", UGLY)
    assert not [item for file in run.check(logs).files for item in file.corrections
                if item.what == WHAT]


def test_one_of_the_three_columns_alone_is_still_unknown(tmp_path):
    logs = write_logs(tmp_path / "logs", {
        "parts.csv": "part_number,construction,row_no\n1,C-1,7\n"})
    with pytest.raises(InputError):
        run.load(logs, new_store(tmp_path / "store"))


def test_a_workbook_says_which_texts_it_could_not_hold_whole(tmp_path):
    # "Total number of characters that a cell can contain: 32,767 characters", from the
    # published limits of spreadsheet programs; from memory.
    for length, n_cut in ((32_767, 0), (32_768, 1), (40_000, 1)):
        sheet = Sheet("t", ["medium", "site"], iter([[("L" * length, "s"), ("x", None)]]))
        with book([sheet]):
            pass
        assert sheet.cut.total() == sheet.cut["medium"] == n_cut


def test_an_export_says_what_it_had_to_cut(store, tmp_path, monkeypatch):
    monkeypatch.setattr(sheets, "CELL_LIMIT", 10)
    told = []
    run.export(store, "clean.service_points", tmp_path / "t.xlsx", told.append)
    assert len(told) == 1
    assert re.search(r"^8 texts longer .*: medium \(1\), source_file \(7\)\. A \.csv", told[0])
    run.export(store, "clean.service_points", tmp_path / "t.csv", told.append)
    assert len(told) == 1


def test_an_export_says_that_one_sheet_was_not_enough(store, tmp_path, monkeypatch):
    monkeypatch.setattr(sheets, "SHEET_ROWS", 6)
    told = []
    run.export(store, "clean.service_points", tmp_path / "t.xlsx", told.append)
    assert ["next sheets" in line for line in told] == [True]
    told.clear()
    run.export(store, "clean.parts", tmp_path / "t.xlsx", told.append)
    assert told == []
