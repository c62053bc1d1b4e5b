"""Tags pass through tables, filters, orders and files of the pages sign by sign, never as numbers.

Kind of plotly/dash-table #481 and marmelab/react-admin #288 (a tag taken for a number is rounded
beyond 2^53) and of pandas-dev/pandas #12186 (or loses its leading zeros).
"""

import csv
import io

import openpyxl
import pytest

from dashboard.queries.health import REFUSED
from dashboard.queries.lives import HOSES
from dashboard.queries.place import ROWS_AS_LOADED
from dashboard.queries.places import PLACES
from dashboard.queries.spares import PARTS
from etl import run
from tests.dashboard.page_reader import Reader
from tests.faults.small import new_store, write_logs

TAGS = ("20250306000000019", "20250306000000021", "0021", "21", "021.0", "2.1e1", "1e400")
"""The first two, and the next four, are one number each to a program that counts in doubles."""
WRONG = tuple(f"9{tag}" for tag in TAGS)
"""Places that the register lacks."""
LOGS = {
    "service_points.csv": "service_point,application_class\n"
    + "".join(f"{tag},loop\n" for tag in TAGS),
    "parts.csv": "part_number,construction,unit_price\n"
    + "".join(f"{tag},C-1,10\n" for tag in TAGS),
    "installations.csv": "installed_on,service_point,hose_id,part_number,work_order\n"
    + "".join(f"2020-01-{day:02},{tag},{tag},{tag},{tag}\n" for day, tag in enumerate(TAGS, 1)),
    "replacements.csv": "removed_on,service_point,hose_id,reason\n"
    + f"2021-01-01,{TAGS[0]},{TAGS[0]},failed\n"
    + "".join(f"2021-01-01,{place},{tag},failed\n"
              for place, tag in zip(WRONG, TAGS, strict=True)),
}


@pytest.fixture(scope="module")
def reader(tmp_path_factory):
    folder = tmp_path_factory.mktemp("tags")
    store = new_store(folder / "store")
    run.load(write_logs(folder / "logs", LOGS), store)
    return Reader(store)


def asked(table, reader, filters=None, sort=()):
    with reader.app.server.app_context():
        return table.page(filters or {}, list(sort), 0, 100)


def test_they_are_one_number_each():
    assert float(TAGS[0]) == float(TAGS[1])
    assert len({float(tag) for tag in TAGS[2:6]}) == 1


@pytest.mark.parametrize(("table", "column", "expected"), [
    (PLACES, "service_point", TAGS), (PLACES, "hose_id", TAGS[1:]), (HOSES, "hose_id", TAGS),
    (PARTS, "part_number", TAGS[1:]), (REFUSED, "value", WRONG)],
    ids=["places", "hoses of places", "hoses", "parts", "refused rows"])
def test_each_tag_is_a_row_of_text_in_every_order(reader, table, column, expected):
    for order in ("asc", "desc"):
        rows = asked(table, reader, sort=[{"colId": column, "sort": order}])
        found = [row[column] for row in rows if row[column] is not None]
        assert sorted(found) == sorted(expected)
        long = [tag for tag in found if len(tag.removeprefix("9")) == 17]
        assert long == sorted(long, reverse=order == "desc")


@pytest.mark.parametrize(("text", "expected"), [
    *((tag, {tag}) for tag in TAGS[:2]), ("0021", {TAGS[1], "0021"}),
    ("21", {*TAGS[1:4], "021.0"}), ("1e1", {"2.1e1"}),
    ("20250306000000020", set()), ("2025030600000002", {TAGS[1]}), ("1e4", {"1e400"})])
def test_a_filter_finds_the_signs_that_were_typed(reader, text, expected):
    request = {"startRow": 0, "endRow": 50, "sortModel": [], "filterModel": {
        "filter_text": {"filterType": "text", "type": "equals", "filter": text}}}
    answer = reader.call("places-grid.getRowsResponse", {"places-grid.getRowsRequest": request})
    found = answer["places-grid"]["getRowsResponse"]
    assert {cell["service_point"]["text"] for cell in found["rowData"]} == expected
    assert found["rowCount"] == len(expected)
    answer = reader.client.get("/download/places.csv", query_string={"text": text})
    assert set(column_of(answer, "service_point")) == expected


def column_of(answer, name):
    head, *rows = csv.reader(io.StringIO(answer.get_data().decode("utf-8-sig")))
    return [row[head.index(name)] for row in rows]


@pytest.mark.parametrize(("table", "column", "expected"), [
    ("places", "service_point", TAGS), ("lives", "hose_id", TAGS), ("refused", "value", WRONG),
    ("log_rows", "service_point", (*TAGS, *WRONG)), ("spares", "part_number", TAGS[1:])])
@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_files_hold_every_sign_and_workbooks_hold_text(reader, table, column, expected, ending):
    answer = reader.client.get(f"/download/{table}.{ending}")
    if ending == "csv":
        found = column_of(answer, column)
    else:
        head, *rows = openpyxl.load_workbook(io.BytesIO(answer.get_data())).active.iter_rows()
        at = [cell.value for cell in head].index(column)
        assert {row[at].data_type for row in rows if row[at].value is not None} == {"s"}
        found = [row[at].value for row in rows]
    assert set(expected) == set(filter(None, found))


@pytest.mark.parametrize("tag", TAGS)
def test_the_page_of_a_place_is_that_of_its_signs_alone(reader, tag):
    text = reader.text(f"/places/{tag}")
    assert f" {tag} " in f" {text} "
    rows = asked(ROWS_AS_LOADED, reader, {"place": tag})
    assert {row["source_row"] for row in rows if row["log"] == "installations"} == {
        TAGS.index(tag) + 2}
