"""Every published table can be taken away, and no cell of it runs in a spreadsheet."""

import csv
import io
from decimal import Decimal

import openpyxl
import pytest

from dashboard.downloads import PAGED, PUBLISHED
from dashboard.queries import edition
from etl.sheets import RUNS, Sheet, book, csv_lines, safe_text
from tests.dashboard.edition_maker import HOSTILE


def csv_rows(answer):
    assert answer.status_code == 200
    return list(csv.reader(io.StringIO(answer.get_data().decode("utf-8-sig"))))


def sheet_rows(answer):
    assert answer.status_code == 200
    book = openpyxl.load_workbook(io.BytesIO(answer.get_data()))
    return book.active


@pytest.mark.parametrize("table", PUBLISHED)
def test_every_table_is_handed_out_whole(full, table):
    with full.app.server.app_context():
        n = edition.ask(f"select count(*) as n from {table}")[0]["n"]
    assert len(csv_rows(full.client.get(f"/download/{table}.csv"))) == n + 1
    assert sheet_rows(full.client.get(f"/download/{table}.xlsx")).max_row == n + 1


@pytest.mark.parametrize("table", [*PUBLISHED, *PAGED])
def test_no_cell_of_a_csv_starts_a_formula(hostile, table):
    for row in csv_rows(hostile.client.get(f"/download/{table}.csv"))[1:]:
        for cell in row:
            if cell.lstrip(" ").startswith(RUNS):
                float(cell)  # a negative number is the only thing that may begin so


@pytest.mark.parametrize("table", ["places", "lives", "refused", "log_rows"])
def test_no_cell_of_a_workbook_is_a_formula(hostile, table):
    sheet = sheet_rows(hostile.client.get(f"/download/{table}.xlsx"))
    kinds = {cell.data_type for row in sheet.iter_rows() for cell in row}
    assert "f" not in kinds
    assert not any(cell.hyperlink for row in sheet.iter_rows() for cell in row)


@pytest.mark.parametrize("text", ["=1", "+1", "-1", "@x", "\t=1", "\r=1", "\n=1", "  =1",
                                  "\uff1d1"])
def test_text_that_would_run_is_written_as_text(text):
    assert safe_text(text) == "'" + text


def test_negative_numbers_stay_numbers_and_texts_like_them_texts():
    row = (-20.5, Decimal("-20.50"), -3, "-20.5", "-20B", "@site", "=1+1")
    texts = ["'-20.5", "'-20B", "'@site", "'=1+1"]
    assert "".join(csv_lines(["a"], [[row]])).splitlines()[1].split(",") == [
        "-20.5", "-20.50", "-3", *texts]
    with book([Sheet("a", list("abcdefg"), [[row]])]) as made:
        cells = openpyxl.load_workbook(made).active[2]
    assert [cell.value for cell in cells] == [-20.5, -20.5, -3, *texts]
    assert [cell.data_type for cell in cells] == ["n"] * 3 + ["s"] * 4


@pytest.mark.parametrize("separator", [";", "\t"])
def test_no_cell_starts_a_formula_where_spreadsheets_split_at_other_signs(separator):
    """Where commas are decimal, spreadsheets split a CSV at semicolons, whatever is in quotes.

    OWASP, CSV Injection: "you also need to take care of the field separator and quotes".
    """
    texts = ["a;=1+1", "a; =HYPERLINK(1)", "a;\"=1", "a;'=1", "a\t@SUM(A1)", "a\n+1", "a\r\n-1",
             "a;;=1", "a;\uff1d1", "=1;=2", "x", "a;b=1", "1 - 2"]
    whole = "".join(csv_lines(["name"], [[("first", text, 7) for text in texts]]))
    for line in whole.splitlines():
        for cell in line.split(separator):
            assert not cell.lstrip(" \"").startswith(RUNS), (line, cell)
    assert '"a\n\'+1"' in whole
    assert ",x," in whole
    assert "a;b=1" in whole


def test_a_download_follows_the_filters_of_the_page(full):
    rows = csv_rows(full.client.get("/download/places.csv?site=Estwater&hazard=toxic&nonsense=1"))
    place = rows[0].index("site"), rows[0].index("hazards")
    assert len(rows) > 1
    assert all(row[place[0]] == "Estwater" and "toxic" in row[place[1]] for row in rows[1:])


def test_hostile_filters_find_nothing_and_break_nothing(full):
    for text in HOSTILE:
        answer = full.client.get("/download/places.csv", query_string={"site": text})
        assert len(csv_rows(answer)) == 1


@pytest.mark.parametrize("path", [
    "/download/secret.csv", "/download/information_schema.tables.csv", "/download/lives.parquet",
    "/download/lives;drop.csv", "/download/..%2F..%2Fsecret.csv"])
def test_nothing_else_can_be_taken(full, path):
    answer = full.client.get(path)
    assert answer.status_code == 404 or answer.mimetype == "text/html"  # the shell, no table
    assert "attachment" not in answer.headers.get("Content-Disposition", "")


def test_a_download_without_an_edition_says_so(tmp_path):
    from tests.dashboard.page_reader import Reader

    answer = Reader(tmp_path).client.get("/download/lives.csv")
    assert answer.status_code == 503
    assert "braidlife load" in answer.get_data(as_text=True)


def test_a_table_too_long_for_a_workbook_says_so_and_comes_as_csv(full, monkeypatch):
    monkeypatch.setattr("dashboard.downloads.MOST_IN_A_WORKBOOK", 2)
    answer = full.client.get("/download/places.xlsx")
    assert answer.status_code == 413
    assert "Take the CSV" in answer.get_data(as_text=True)
    assert len(csv_rows(full.client.get("/download/places.csv"))) > 3
    few = full.client.get("/download/places.xlsx", query_string={"text": "no such place"})
    assert few.status_code == 200  # a filter makes it short enough
