"""What is entered is checked by what loaded rows are checked by: same cells, same verdict."""

import csv
import datetime as dt
import io

import pytest

from etl.entry.rows import MOST_ROWS, check_rows
from etl.entry.take import take
from etl.errors import InputError
from etl.load.check_report import CheckReport, FileReport
from etl.load.columns import LOGS
from etl.load.entered import journal_path
from etl.load.trial_run import try_rows

LATEST = dt.date(2026, 11, 25)
PLACES = ("A-1", "Å 3")
CELLS = {
    "inspections": [
        {"inspected_on": "2026-11-01", "service_point": "A-1", "condition": "good"},
        {"inspected_on": "01.11.2026", "service_point": "A-1", "condition": "good"},
        {"inspected_on": "2026-11-01T14:30", "service_point": "a-1", "condition": "Gut"},
        {"inspected_on": "1949-12-31", "service_point": "", "condition": ""},
        {"inspected_on": "2026-11-01", "service_point": "A-1", "condition": "worn",
         "vibration_mm_s_rms": "4,5", "vibration_hz": "-3"},
        {"inspected_on": "2026-11-01", "service_point": " Å 3 ", "condition": " WORN ",
         "vibration_mm_s_rms": "1e400", "vibration_hz": "25"},
    ],
    "teardowns": [
        {"examined_on": "2026-11-01", "hose_id": "007", "finding": "crk_circ", "value": "yes"},
        {"examined_on": "2026-11-01", "service_point": "A-1", "finding": "crk_circ"},
        {"examined_on": "2026-11-01", "service_point": "A-1", "removed_on": "2026-11-02",
         "finding": "dent"},
        {"examined_on": "", "hose_id": "007", "finding": "", "deleted": "yes"},
        {"examined_on": "2026-11-01", "hose_id": "007", "finding": "x", "deleted": "perhaps"},
    ],
    "replacements": [
        {"removed_on": "2026-11-01", "service_point": "A-1", "reason": "leak",
         "part_cost": "12.345", "downtime_h": "-1", "planned": "maybe"},
        {"removed_on": "2026-11-01", "service_point": "Z-9", "reason": "exploded",
         "last_seen_good_on": "2026-11-02"},
    ],
}


def verdict_of_a_file(folder, log, rows):
    """Faults that the same cells have as a file beside a register of places."""
    names = LOGS[log].names
    text = io.StringIO()
    out = csv.DictWriter(text, names)
    out.writeheader()
    out.writerows(rows)
    (folder / f"{log}.csv").write_text(text.getvalue(), encoding="utf-8", newline="")
    (folder / "service_points.csv").write_text(
        "service_point,application_class\n" + "".join(f"{place},any\n" for place in PLACES),
        encoding="utf-8")
    of_log = FileReport(f"{log}.csv")
    # In the order in which a folder is read.
    report = CheckReport(sorted([of_log, FileReport("service_points.csv")],
                                key=lambda told: told.file))
    try_rows(folder, report)
    refused = {(row["source_row"] - 1, row["column_name"], row["reason"])
               for row in report.refused}
    left_out = {(item.column_name, item.what.rpartition(": ")[2])
                for item in of_log.corrections if "left out" in item.what}
    return refused, left_out


@pytest.mark.parametrize("log", CELLS)
def test_the_verdict_is_that_on_the_same_cells_in_a_file(tmp_path, log):
    refused, left_out = verdict_of_a_file(tmp_path, log, CELLS[log])
    faults = check_rows(log, CELLS[log], PLACES, LATEST).faults
    mine = {(fault.row, fault.column, fault.reason) for fault in faults}
    assert refused, "the rows are to have faults"
    assert refused <= mine
    assert {(column, reason) for _, column, reason in mine - refused} == left_out


def test_a_day_to_come_is_refused():
    row = {"inspected_on": "2026-11-26", "service_point": "A-1", "condition": "good"}
    (fault,) = check_rows("inspections", [row], PLACES, LATEST).faults
    assert (fault.column, fault.reason) == ("inspected_on", "lies after the data date")


@pytest.mark.parametrize(("log", "rows", "said"), [
    ("inspections", [], "1 to 200 rows"), ("inspections", [{}] * (MOST_ROWS + 1), "1 to 200 rows"),
    ("no log", [{}], "no log"), ("service_points", [{"service_point": "x"}], "is a register"),
    ("../inspections", [{}], "no log"), ("inspections", [{"x; drop table": "1"}], "no column"),
    ("inspections", [{"note": "x" * 2001}], "at most 2,000"),
    ("inspections", [{"note": 7}], "must be text"), ("inspections", [{"note": "a\0b"}], "no text"),
    ("inspections", [{"note": "\ud800"}], "no text"),
])
def test_what_is_no_row_is_refused_with_what_to_do(log, rows, said):
    with pytest.raises(InputError, match=said):
        check_rows(log, rows, PLACES, LATEST)


@pytest.mark.parametrize("place", ["'; drop table lives; --", "<b>A-1</b>", "../A-1", "A-1\0"[:3]])
def test_a_place_is_known_by_its_exact_name(place):
    row = {"inspected_on": "2026-11-01", "service_point": place, "condition": "good"}
    faults = check_rows("inspections", [row], PLACES, LATEST).faults
    assert (not faults) == (place in PLACES)


@pytest.mark.parametrize("who", ["", "   ", "x" * 81, "A\0nn", "A\u202enn"])
def test_an_entry_names_who_made_it(tmp_path, who):
    with pytest.raises(InputError, match="entry:"):
        take(tmp_path, "inspections", "0" * 16, who, [
            {"inspected_on": "2026-11-01", "service_point": "A-1", "condition": "good"}], PLACES)
    assert not journal_path(tmp_path, "inspections").exists()


def test_an_entry_with_a_fault_is_not_kept(tmp_path):
    taken = take(tmp_path, "inspections", "0" * 16, "Ann", [
        {"inspected_on": "2026-11-01", "service_point": "A-1", "condition": "splendid"}], PLACES)
    assert not taken.is_kept
    assert "condition “splendid” is not one of the known words. Use one of good" in taken.words
    assert not journal_path(tmp_path, "inspections").exists()


