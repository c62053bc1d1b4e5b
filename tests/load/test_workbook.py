import csv
import datetime as dt
import io
import zipfile

import openpyxl
import pytest
import xlsxwriter

from etl.load import workbook, workbook_child
from etl.load.book_xlsx import open_xlsx
from tests.load.new_workbook import book, books, rewritten

HEAD = ["installed_on", "service_point", "hose_id", "age_at_installation"]
NAME = "installations.xlsx"
ROWS = "select source_row, installed_on, service_point, hose_id from raw.installations order by all"


def test_days_numbers_and_texts_are_read_as_text(site):
    site.write(NAME, book([
        HEAD, [dt.date(2020, 1, 31), "P1", "00123", 12.5],
        [dt.datetime(2020, 2, 1, 13, 5), "P2", 123, 7], ["2020-03-01", "=x", True, None]],
        strings_to_formulas=False))
    site.load()
    assert site.rows(ROWS) == [
        (2, "2020-01-31", "P1", "00123"), (3, "2020-02-01 13:05:00", "P2", "123"),
        (4, "2020-03-01", "=x", "true")]
    assert site.rows("select age_at_installation from raw.installations order by source_row") == [
        ("12.5",), ("7",), (None,)]
    assert site.is_balanced()


def test_serial_numbers_in_a_column_of_days_are_read_in_the_workbooks_calendar(site):
    serial = 43_861  # 31 January 2020
    site.write(NAME, book([HEAD, [serial, "P1", serial, None], [20200131, "P2", "x", None]]))
    site.load()
    assert site.rows(ROWS) == [
        (2, "2020-01-31", "P1", str(serial)), (3, "20200131", "P2", "x")]
    assert site.corrections() == [
        ("installed_on", "serial numbers read as days (calendar from 1900)", 1)]


def test_rows_of_all_kinds_stand_in_their_place_over_many_blocks(site, monkeypatch):
    monkeypatch.setattr(workbook_child, "ROWS_AT_ONCE", 3)
    tags = ["H1", "H2", 'say "H3"', "H,4", "H\n5", 6, "H7", None, "H9", "H10", "H11", None, "H13"]
    made = book([["installed_on", "service_point", "hose_id"], *(
        [None if tag is None else dt.date(2020, 1, day) if day % 4 == 0 else f"2020-01-{day:02}",
         None if tag is None else "P1", tag] for day, tag in enumerate(tags, start=1))])
    path = site.write(NAME, made)
    request = {"path": str(path), "file": NAME, "sheet": None, "header_row": None,
               "wanted": {"names": ["hose_id"]}, "kept": str(path.with_suffix(".rows"))}
    result = workbook_child.Sheet(request).read(open_xlsx(str(path)))
    with path.with_suffix(".rows").open(encoding="utf-8", newline="") as rows:
        assert list(csv.reader(rows)) == [
            [str(day + 1), f"2020-01-{day:02}", "P1", str(tag)]
            for day, tag in enumerate(tags, start=1) if tag is not None]
    assert (result["n_records"], result["n_blank"]) == (14, 2)


def test_rows_above_and_total_below_are_left_out_and_rows_numbered_as_shown(site):
    rows = [["Hose list"], [], HEAD, ["2020-01-01", "P1", "H1"], [], ["2020-01-02", "P2", "H2"],
            ["Total", None, 2]]
    site.write(NAME, book(rows, first_row=2, first_column=1))
    site.load()
    assert site.rows(ROWS) == [(6, "2020-01-01", "P1", "H1"), (8, "2020-01-02", "P2", "H2")]
    assert site.corrections() == [
        (None, "rows above the header left out", 4),
        (None, "rows of totals at the end left out", 1)]
    assert site.is_balanced()


def test_error_cells_merged_headers_and_texts_of_numbers_are_reported(site):
    made = openpyxl.Workbook()
    page = made.active
    page.append([*HEAD, "remark", None])
    page.merge_cells("E1:F1")
    page.append(["2020-01-01", "P1", "#N/A", "12", "a", "b"])
    page["C2"].data_type = "e"
    out = io.BytesIO()
    made.save(out)
    site.write(NAME, out.getvalue())
    site.write("columns.toml", f'[[file]]\nmatch = "{NAME}"\nlog = "installations"\n'
               'ignore = ["remark"]\n')
    site.load()
    assert site.rows(ROWS) == [(2, "2020-01-01", "P1", None)]
    assert site.rows("select other_cells from raw.installations") == [
        ('{"remark":"a","column 6":"b"}',)]
    assert site.corrections() == [
        ("age_at_installation", "numbers stored as text, read as numbers", 1),
        ("remark", "merged header cells: the columns to the right have no name", 1),
        (None, "error cells such as #N/A read as empty", 1)]


def test_the_sheet_with_the_wanted_columns_is_read_or_the_declared_one(site):
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as made:
        for name, cells in (("Notes", ["read me", "please"]), ("Order's", HEAD), ("Old", HEAD)):
            page = made.add_worksheet(name)
            page.write_row(0, 0, cells)
            page.write_row(1, 0, ["2020-01-01", name, "H"])
    site.write(NAME, out.getvalue())
    site.load()
    assert [row[2] for row in site.rows(ROWS)] == ["Order's"]
    assert (None, "sheets not read", 2) in site.corrections()
    entry = f'[[file]]\nmatch = "{NAME}"\nlog = "installations"\n'
    site.write("columns.toml", entry + 'sheet = "Old"\n')
    site.load()
    assert [row[2] for row in site.rows(ROWS)] == ["Old"]
    site.write("columns.toml", entry + 'sheet = "Odl"\n')
    site.load()
    assert "there is no sheet 'Odl', only Notes, Order's, Old" in site.refusal(NAME)


def test_the_sheet_with_the_required_columns_goes_before_one_with_more_of_the_others(site):
    site.write(NAME, books({
        "Orders": [["part_number", "work_order", "hose_id"], ["N1", "W1", "H9"]],
        "Fitted": [["installed_on", "service_point"], ["2020-01-31", "P1"]]}))
    site.load()
    assert site.rows("select installed_on, service_point from raw.installations") == [
        ("2020-01-31", "P1")]
    assert (None, "sheets not read", 1) in site.corrections()


def test_lost_digits_are_reported(site):
    site.write(NAME, book([HEAD, ["2020-01-01", "P1", 1234567890123456789]]))
    site.load()
    [(column, what, n_cells)] = site.corrections()
    assert (column, n_cells) == ("hose_id", 1)
    assert "last digits were lost" in what


def bomb():
    """Return a workbook with a part that unpacks to a thousand times its size."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("xl/worksheets/sheet1.xml", b" " * 20_000_000)
    return out.getvalue()


def vast():
    """Return a workbook whose sheet says that it fills a million rows and a thousand columns."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        made.writestr("xl/worksheets/sheet1.xml", b'<dimension ref="A1:ALL1000000"/>')
    return out.getvalue()


def spoiled(packing):
    """Return a workbook whose sheet, packed this way, cannot be unpacked."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", packing) as made:
        made.writestr("xl/worksheets/sheet1.xml", bytes(range(256)) * 40)
        start = made.infolist()[0].header_offset + 30 + len("xl/worksheets/sheet1.xml")
    content = bytearray(out.getvalue())
    content[start + 12:start + 60] = b"\xff" * 48
    return bytes(content)


def renamed(name, data):
    """Call the main part Book1.xml."""
    return name.replace("workbook.xml", "Book1.xml"), data.replace(b"workbook.xml", b"Book1.xml")


@pytest.mark.parametrize(("content", "said"), [
    pytest.param(lambda: b"installed_on,service_point\n", "content is text", id="CSV inside"),
    pytest.param(lambda: b"", "is empty", id="empty"),
    pytest.param(lambda: book([HEAD])[:-300], "damaged or cut short", id="truncated"),
    pytest.param(lambda: b"\xd0\xcf\x11\xe0" + b"x" * 100, "protected by a password",
                 id="container that is none"),
    pytest.param(lambda: rewritten(book([HEAD]), renamed), "Save it as XLSX or CSV",
                 id="main part under another name"),
    pytest.param(lambda: book([[]]), "no sheet with column names", id="no cells"),
    *(pytest.param(lambda packing=packing: spoiled(packing), "damaged or cut short",
                   id=f"cannot be unpacked, {name}")
      for name, packing in (("deflate", zipfile.ZIP_DEFLATED), ("bzip2", zipfile.ZIP_BZIP2),
                            ("lzma", zipfile.ZIP_LZMA))),
    pytest.param(bomb, "times its packed size", id="packed too tightly"),
    pytest.param(vast, "a sheet spans 1,000,000,000 cells", id="too many cells"),
])
def test_unusable_workbooks_say_why_and_the_others_load(site, content, said):
    site.write(NAME, content())
    site.write("service_points.csv", "service_point,application_class\nP1,a\n")
    site.load()
    assert said in site.refusal(NAME)
    assert site.status("service_points.csv") == ("loaded", None)


def test_a_workbook_that_outgrows_its_memory_ends_as_one_refused_file(site, monkeypatch):
    monkeypatch.setattr(workbook, "MEMORY", 256 << 20)
    site.write("service_points.xlsx", book([["service_point", "application_class"], ["P", "a"]]))
    site.write(NAME, book_without_dimension(40_000))
    site.load()
    assert "of memory" in site.refusal(NAME)
    assert site.status("service_points.xlsx") == ("loaded", None)


def book_without_dimension(last_row):
    """Return a small workbook with one cell far away and no word about its size."""
    source = io.BytesIO(book([HEAD]))
    out = io.BytesIO()
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            data = old.read(name)
            if name == "xl/worksheets/sheet1.xml":
                start, end = data.index(b"<dimension"), data.index(b"/>", data.index(b"<dimension"))
                data = data[:start] + data[end + 2:]
                far = f'<row r="{last_row}"><c r="CZZ{last_row}"><v>1</v></c></row></sheetData>'
                data = data.replace(b"</sheetData>", far.encode())
            new.writestr(name, data)
    return out.getvalue()
