"""Data health: files, refused rows, corrections, doubts."""

import pytest

from dashboard.parts.health import blocks as parts_health_blocks
from dashboard.parts.health import sections as parts_health


def rows(reader, **filters):
    request = {"startRow": 0, "endRow": 50, "sortModel": [],
               "filterModel": {name: {"filter": value} for name, value in filters.items()}}
    answer = reader.call("data-health-rows.getRowsResponse",
                         {"data-health-rows.getRowsRequest": request})
    return answer["data-health-rows"]["getRowsResponse"]


def test_the_sentence_counts_rows_and_names_the_largest_doubt(full):
    text = full.text("/data-health")
    for part in ("522 of 538 rows", "12 refused", "14 cells set right",
                 "if all were failures, 3 of the ten places would change"):
        assert part in text


def test_a_doubt_without_rows_is_not_the_one_that_matters_most():
    total = {"n_files": 1, "n_clean": 3, "n_records": 3, "n_corrected": 0, "n_refused_files": 0}
    none = {"doubt": "removals without a reason", "n_rows": 0, "effect": "as suspensions"}
    some = {"doubt": "lives not fitted", "n_rows": 2, "effect": "left out"}

    def said(*doubts):
        return str(parts_health_blocks.sentence(total, {"n_refused": 0, "n_excluded": 0}, doubts))

    assert "doubt" not in said(none)
    assert "cannot be told in figures" in said(some)
    assert "B10 would be 5" in said(some | {"effect": "left out; B10 would be 5 days"})
    assert "lives not fitted (2" in said(none, some).replace("\\xa0", " ")
    told = said(some, none | {"n_rows": 1, "effect": "as suspensions; had they failed, 2 more"})
    assert "without a reason (1" in told
    assert "had they failed, 2 more" in told
    assert "as suspensions" not in told


def test_a_file_refused_whole_comes_first_with_its_cure(full):
    text = full.text("/data-health")
    assert "whole file refused" in text
    assert "Save it without." in text
    assert text.index("stock.xlsx") < text.index("inspections.csv")


def test_every_refused_row_is_there_with_file_row_value_reason_and_remedy(full):
    answer = rows(full)
    assert answer["rowCount"] == 12
    first = answer["rowData"][0]
    assert first["source_file"] == {"first": "replacements.csv", "below": "row 901, replacements"}
    assert first["value"] == {"first": "31/02/2024", "below": "removed_on"}
    assert first["reason"]["first"] == "not a date like 2024-02-29"
    assert first["remedy"]["first"] == "correct the date"


@pytest.mark.parametrize(("filters", "n"), [
    ({"log": "replacements"}, 12), ({"log": "stock"}, 0), ({"text": "31/02"}, 12),
    ({"why": "not a date like 2024-02-29"}, 12), ({"file": "x.csv"}, 0),
    ({"text": "' or 1=1 --"}, 0),
])
def test_refused_rows_are_filtered_on_the_server(full, filters, n):
    assert rows(full, **filters)["rowCount"] == n


def test_refused_rows_are_exported_under_their_filters(full):
    def lines(tail):
        return full.client.get("/download/refused_rows.csv" + tail).get_data(as_text=True)
    assert len(lines("").strip().splitlines()) == 13
    assert len(lines("?log=stock").strip().splitlines()) == 1


def test_a_log_that_is_missing_says_what_it_would_add(full):
    assert "would add evidence of why hoses fail" in full.text("/data-health")


def test_lives_left_out_name_the_files_that_tell_of_them(full):
    assert "2 in installations.csv" in full.text("/data-health")


def test_of_many_files_the_largest_are_named_and_the_rest_counted():
    rows = [{"exclusion": "no age", "n_lives": 21}]
    files = [{"exclusion": "no age", "source_file": f"{n}.csv", "n_lives": 6 - n} for n in range(6)]
    text = str(parts_health.exclusions_list(rows, files))
    assert "6 in 0.csv, 5 in 1.csv, 4 in 2.csv, 3 in 3.csv, and 2" in text
    assert "4.csv" not in text


def test_an_empty_cell_is_called_empty():
    row = {"source_file": "a.csv", "source_row": 3, "column_name": None, "value": None,
           "reason": None, "remedy": None, "log": "parts"}
    cell = parts_health.refused_cells([row])[0]
    assert cell["value"] == {"first": "empty", "below": "whole row"}
    assert cell["reason"]["first"] == "not said"


def test_rows_left_out_by_the_mapping_are_told_apart_from_others_left_aside(full):
    assert "2 left aside, 5 left out as the mapping says" in full.text("/data-health")


@pytest.mark.parametrize(("n", "on_a_phone"), [(None, False), (0, False), (3, True)])
def test_rows_replaced_by_others_are_told_on_a_phone_where_there_are_any(n, on_a_phone):
    """Without them a file whose rows were all replaced has rows that went nowhere."""
    cell = str(parts_health._replaced(n))
    assert ("only-wide" in cell) != on_a_phone
