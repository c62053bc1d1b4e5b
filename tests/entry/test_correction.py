"""Correcting a loaded row: in the words and units that the store keeps."""

import pytest

from etl.entry.correction import as_typed, corrected
from etl.errors import InputError
from etl.load import archive

MAPPING = """
[[file]]
match = "site_*.csv"
log = "inspections"
delimiter = ";"
date_formats = ["%d.%m.%Y"]
decimal = ","
thousands = "."
[file.columns]
inspected_on = "Tag"
service_point = "Ort"
condition = "Zustand"
vibration_mm_s_rms = "v"
[file.units]
vibration_mm_s_rms = "in/s"
[file.words.condition]
gut = "good"
"""
CELLS = {"inspected_on": "03.04.2026", "service_point": "P 1", "condition": "gut",
         "vibration_mm_s_rms": "1.000,5", "Remark": "x", "entered by": "y"}


@pytest.fixture
def store(tmp_path):
    folder = tmp_path / "logs"
    folder.mkdir()
    (folder / "columns.toml").write_text(MAPPING, encoding="utf-8")
    (folder / "site_1.csv").write_text("Tag;Ort;Zustand;v\n03.04.2026;P 1;gut;1.000,5\n")
    archive.add(tmp_path, folder)
    return tmp_path


def test_a_row_is_shown_as_its_mapping_reads_it(store):
    typed = as_typed(store, "inspections", "site_1.csv", CELLS, ["P 1"])
    assert typed["inspected_on"] == "2026-04-03"
    assert typed["condition"] == "good"
    assert float(typed["vibration_mm_s_rms"]) == pytest.approx(1000.5 * 25.4)  # an inch: 25.4 mm
    assert "Remark" not in typed


def test_an_entered_row_is_shown_as_it_was_entered(store):
    cells = {"inspected_on": "2026-04-03", "service_point": "P 1", "condition": "worn"}
    assert as_typed(store, "inspections", "inspections.jsonl", cells, ["P 1"]) == cells | {
        "deleted": "no"}


def test_files_of_one_name_that_read_a_row_differently_are_not_guessed_between(store, tmp_path):
    other = tmp_path / "other"
    other.mkdir()
    (other / "columns.toml").write_text(MAPPING.replace("%d.%m.%Y", "%m.%d.%Y"))
    (other / "site_1.csv").write_text("Tag;Ort;Zustand;v\n04.05.2026;P 1;gut;2\n")
    archive.add(store, other)
    with pytest.raises(InputError, match="declared in different ways"):
        as_typed(store, "inspections", "site_1.csv", CELLS, ["P 1"])


@pytest.mark.parametrize("log", ["service_points", "stock", "no log"])
def test_only_logs_of_events_are_corrected_here(store, log):
    with pytest.raises(InputError, match="correct it in its file"):
        as_typed(store, log, "site_1.csv", CELLS, ["P 1"])


BEFORE = {"removed_on": "2026-01-01", "service_point": "P 1", "hose_id": "H", "reason": "failed",
          "deleted": "no"}
AFTER = {name: cell for name, cell in BEFORE.items() if name != "deleted"}


def test_a_row_of_the_same_key_supersedes():
    assert corrected("replacements", BEFORE, AFTER | {"reason": "planned"}) == [
        AFTER | {"reason": "planned"}]


def test_where_the_key_changes_the_old_row_is_taken_back():
    assert corrected("replacements", BEFORE, AFTER | {"removed_on": "2026-01-02"}) == [
        AFTER | {"deleted": "yes"}, AFTER | {"removed_on": "2026-01-02"}]


def test_a_row_with_a_number_of_its_own_keeps_it():
    before = BEFORE | {"row_id": "R 1"}
    after = AFTER | {"row_id": "R 1", "removed_on": "2026-01-02"}
    assert corrected("replacements", before, after) == [after]


def test_without_values_the_row_is_taken_back():
    assert corrected("replacements", BEFORE, None) == [AFTER | {"deleted": "yes"}]
