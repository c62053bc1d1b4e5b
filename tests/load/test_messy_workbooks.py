"""Every kind of mess that planners' workbooks come with is read as it is meant, or said."""

import datetime as dt
import io

import openpyxl
import pytest

from tests.load.new_workbook import Styled, book, books, rewritten

NAME = "installations.xlsx"
HEAD = ["installed_on", "service_point", "hose_id", "age_at_installation", "work_order", "note"]
DAY = dt.date(2020, 1, 31)
ROWS = "select source_row, installed_on, service_point, hose_id from raw.installations order by all"
TWO = [(2, "2020-01-31", "P1", "H1"), (3, "2020-01-31", "P2", "H2")]
PLAIN = [HEAD, [DAY, "P1", "H1"], [DAY, "P2", "H2"]]
IGNORE = f'[[file]]\nmatch = "{NAME}"\nlog = "installations"\nignore = ["note", "text"]\n'


def load(site, content, mapping=IGNORE):
    site.write(NAME, content)
    site.write("columns.toml", mapping)
    site.load()
    return site.rows(ROWS)


def test_notes_above_and_below_the_table_are_left_out(site):
    rows = [["Hoses of the north hall"], ["kept", "by", "the", None, "day", "shift"], *PLAIN,
            ["Printed on 3 March"], [None, "pages 1 to 2"], [None, None, None, "at", "last"]]
    assert load(site, book(rows)) == [(number + 2, *rest) for number, *rest in TWO]
    assert site.corrections() == [
        (None, "notes below the table left out", 3), (None, "rows above the header left out", 2)]
    assert site.rows("select example from raw.corrections where what like 'notes%'") == [
        ("row 6: Printed on 3 March",)]
    assert site.is_balanced()


@pytest.mark.parametrize("last", [
    pytest.param([None, "P3"], id="a place without a day"),
    pytest.param([DAY, None, "H3"], id="a day without a place"),
    pytest.param([None, None, "H3", 3, "w", "note"], id="many cells"),
])
def test_a_faulty_row_at_the_end_is_no_note(site, last):
    assert load(site, book([*PLAIN, last]))[-1] != TWO[-1]
    assert site.rows("select count(*) from raw.installations") == [(3,)]
    assert site.corrections() == []


@pytest.mark.parametrize(("rows", "expected", "n_blank"), [
    pytest.param([HEAD, [DAY, "P1", "H1"], [], [DAY, "P2", "H2"]],
                 [TWO[0], (4, *TWO[1][1:])], 1, id="blank row inside"),
    pytest.param([[], [], *PLAIN], [(number + 2, *rest) for number, *rest in TWO], 0,
                 id="blank rows above"),
    pytest.param([*PLAIN, [Styled(None, "0.00")] * 9] + [[]] * 30
                 + [[Styled(None, "0.00")] * 40], TWO, 0, id="cells with only a style below"),
    pytest.param([[*HEAD, *[Styled(None, "0.00")] * 9], *PLAIN[1:]], TWO, 0,
                 id="columns with only a style"),
])
def test_empty_rows_and_cells_make_no_row_and_no_column(site, rows, expected, n_blank):
    assert load(site, book(rows)) == expected
    assert site.rows("select count(*) from raw.installations where other_cells is not null") == [
        (0,)]
    [(n_found,)] = site.rows("select n_blank from raw.loads")
    assert n_found >= n_blank
    assert site.is_balanced()


@pytest.mark.parametrize(("serial", "expected"), [
    (42_488.479166666664, "2016-04-28 11:30:00"), (42_488.4791666, "2016-04-28 11:30:00"),
    (43_860.999999999, "2020-01-31"), (43_861.0000001, "2020-01-31"),
])
def test_a_time_stored_a_little_early_is_the_round_one(site, serial, expected):
    [found] = load(site, book([HEAD, [Styled(serial, "yyyy-mm-dd hh:mm:ss"), "P1"]]))
    assert found[1] == expected


def test_a_day_behind_any_date_format_is_a_day_and_a_serial_number_too(site):
    found = load(site, book([HEAD, *([Styled(43_861, code), "P1"] for code in (
        'dddd", week of "d mmm', "[$-407]d. mmmm yyyy", "mm/dd/yy", 'm"月"d"日"', "General"))]))
    assert [row[1] for row in found] == ["2020-01-31"] * 5


def test_days_around_the_29th_of_february_1900_are_read_as_days_too_early_to_be_true(site):
    found = load(site, book([HEAD, [Styled(59, "yyyy-mm-dd"), "P1"],
                             [Styled(61, "yyyy-mm-dd"), "P2"]]))
    assert [row[1] for row in found] == ["1900-02-28", "1900-03-01"]


def test_mixed_types_in_one_column_stay_what_they_are(site):
    cells = ["abbage", 1.5, 72, "72", True, DAY, -3]
    found = load(site, book([HEAD, *([DAY, "P", cell] for cell in cells)]))
    assert [row[3] for row in found] == ["abbage", "1.5", "72", "72", "true", "2020-01-31", "-3"]


@pytest.mark.parametrize("number", [2**31 - 1, 2**31, -(2**31) - 1, 999_999_999_999_999])
def test_large_whole_numbers_equal_their_text(site, number):
    found = load(site, book([HEAD, [DAY, "P", number], [DAY, "P", str(number)]]))
    assert [row[3] for row in found] == [str(number)] * 2
    assert site.corrections() == []


@pytest.mark.parametrize(("value", "code", "shown"), [
    (17, "0000", "0017"), (170, "0000", "0170"), (17, "General", "17"), (12345, "0000", "12345"),
    (17, '"H-"0000', "H-0017"), (170_001, "000\\-000", "170-001"), (1.5, "0000", "1.5"),
    (17, "0000;-0000", "0017"), (17, "0.00", "17"), (17, "#,##0", "17"), (17, "000%", "17"),
])
def test_a_tag_keeps_the_zeros_that_only_its_format_shows(site, value, code, shown):
    [found] = load(site, book([HEAD, [DAY, "P", Styled(value, code), Styled(7, "0000")]],
                              first_column=3, first_row=2))
    assert found[3] == shown
    assert site.rows("select age_at_installation from raw.installations") == [("7",)]


@pytest.mark.parametrize("code", ['[$€-407] #,##0.00', '"CHF" 0.00', "0.00%", "$#,##0"])
def test_a_format_of_amounts_does_not_change_the_number(site, code):
    load(site, book([HEAD, [DAY, "P", None, Styled(0.5, code)],
                     [DAY, "P", None, Styled(10_000, code)]]))
    assert site.rows("select age_at_installation from raw.installations order by source_row") == [
        ("0.5",), ("10000",)]


def test_names_missing_and_doubled_are_told_apart(site):
    rows = [["installed_on", "", "service_point", "text", "text", ""],
            [DAY, "a", "P1", "b", "c", "d"]]
    assert [row[:3] for row in load(site, book(rows))] == [(2, "2020-01-31", "P1")]
    assert site.rows("select other_cells from raw.installations") == [
        ('{"column 2":"a","text":"b","text (2)":"c","column 6":"d"}',)]


def test_a_used_name_that_stands_twice_is_refused_by_name(site):
    load(site, book([["installed_on", "Service Point", "service point"], [DAY, "P1", "P2"]]))
    assert ("row 1: columns 2 and 3 are both called 'service point'. Rename one of them"
            in site.refusal(NAME))


def test_a_header_further_down_than_is_searched_can_be_declared(site):
    rows = [["list"]] * 120 + PLAIN
    assert load(site, book(rows), IGNORE + "header_row = 121\n") == [
        (number + 120, *rest) for number, *rest in TWO]
    load(site, book(rows), IGNORE + "header_row = 400\n")
    assert "no sheet with column names found in row 400. Correct header_row" in site.refusal(NAME)


def test_a_cell_merged_over_rows_stands_in_each_of_them(site):
    made = openpyxl.Workbook()
    for cells in (["Dates", "Place", None], *([HEAD[0], None, HEAD[2]], ["2020-01-31", "P1", "H1"],
                  [None, None, "H2"], [None] * 3, ["2020-01-31", "P2", "H3"])):
        made.active.append(cells)
    for span in ("B1:B2", "A3:A5", "B3:B5"):
        made.active.merge_cells(span)
    out = io.BytesIO()
    made.save(out)
    entry = IGNORE + '[file.columns]\nservice_point = "Place"\n'
    assert load(site, out.getvalue(), entry) == [
        (3, "2020-01-31", "P1", "H1"), (4, "2020-01-31", "P1", "H2"), (6, "2020-01-31", "P2", "H3")]
    assert (None, "cells merged over several rows: repeated in each", 2) in site.corrections()
    assert site.is_balanced()


@pytest.mark.parametrize("name", ["µ", "∂", "Größe & Maß", "O'Brien <2>"])
def test_a_sheet_of_any_name_can_be_declared(site, name):
    content = books({"first": [HEAD, [DAY, "other", "H"]], name: PLAIN})
    assert load(site, content, IGNORE + f"sheet = \"{name}\"\n") == TWO


def test_padded_and_broken_texts_keep_their_words(site):
    made = openpyxl.Workbook()
    made.active.append([" Installed\u00a0on ", "service\npoint", "hose_id"])
    made.active.append(["2020-01-31", " P\u00a01 ", "Đường ống\r\nnới"])
    out = io.BytesIO()
    made.save(out)
    [(_, day, place, hose)] = load(site, out.getvalue())
    assert (day, place) == ("2020-01-31", " P\u00a01 ")
    assert hose.split() == ["Đường", "ống", "nới"]


MAIN = b"http://schemas.openxmlformats.org/spreadsheetml/2006/main"
LINKS = b"http://schemas.openxmlformats.org/officeDocument/2006/relationships"


def with_prefix(name, data):
    """Write every element with a prefix, as some programs do."""
    if name.startswith("xl/worksheets/sheet"):
        data = data.replace(b"</", b"</x:").replace(b"xmlns=", b"xmlns:x=")
        data = b"".join(b"<" + (b"" if part[:1] in b"/?" else b"x:") + part
                        for part in data.split(b"<")[1:])
    return name, data


def strict(name, data):
    """Write the namespaces of the strict form of the standard."""
    data = data.replace(MAIN, b"http://purl.oclc.org/ooxml/spreadsheetml/main")
    return name, data.replace(LINKS, b"http://purl.oclc.org/ooxml/officeDocument/relationships")


@pytest.mark.parametrize("content", [
    pytest.param(lambda rows: book(rows, constant_memory=True), id="texts inside the cells"),
    pytest.param(lambda rows: rewritten(book(rows), with_prefix), id="prefixed elements"),
    pytest.param(lambda rows: rewritten(book(rows), strict), id="strict form"),
    pytest.param(lambda rows: rewritten(book(rows), lambda name, data: (
        name.replace("/", "\\"), data)), id="part names with backslashes"),
    pytest.param(lambda rows: books({"Hoses": rows}, change=chart), id="sheet that is a chart"),
])
def test_unusual_parts_of_a_workbook_are_read_all_the_same(site, content):
    rows = [*PLAIN, [DAY, "P3", Styled(3, "000")]]
    assert load(site, content(rows)) == [*TWO, (4, "2020-01-31", "P3", "003")]


def chart(made):
    drawn = made.add_chart({"type": "line"})
    drawn.add_series({"values": "=Hoses!$A$2:$A$3"})
    made.add_chartsheet("Chart").set_chart(drawn)


def test_a_thousand_different_texts_are_all_kept(site):
    rows = [HEAD, *([DAY, f"P{number}", f"text {number}"] for number in range(1_000))]
    found = load(site, book(rows))
    assert [row[3] for row in found] == [f"text {number}" for number in range(1_000)]


def test_a_far_stray_cell_costs_no_rows(site):
    """One blank in the last column of the sheet makes it 16,384 columns wide."""
    rows = [HEAD, [DAY, "P1", "H1", *[None] * 16_380, " "], [DAY, "P2", "H2"]]
    assert load(site, book(rows)) == TWO


TWO_ROWS = [["Installed on", "Place and hose", None, "Note"],
            [None, "service_point", "hose_id", None], ["2020-01-31", "P1", "H1", "x"]]


def merged(made):
    """Merge the cells of a header of two rows, some across and some down."""
    page = made.get_worksheet_by_name("A")
    for span, name in (("A1:A2", "Installed on"), ("B1:C1", "Place and hose"), ("D1:D2", "Note")):
        page.merge_range(span, name)


@pytest.mark.parametrize("change", [merged, None], ids=["merged", "not merged"])
def test_a_header_of_two_rows(site, change):
    """Cells merged down belong to the second row, too; unmerged, the date has no name there."""
    found = load(site, books({"A": TWO_ROWS}, change=change))
    if change:
        assert found == [(3, "2020-01-31", "P1", "H1")]
        assert (None, "rows above the header left out", 1) in site.corrections()
    else:
        assert "Required column installed_on of installations is missing" in site.refusal(
            NAME)


def test_names_that_stand_twice_are_told_apart_by_the_headings_merged_above(site):
    rows = [["Hose", None, "In", None, "Out", None], ["Place", "Tag", "Date", "by", "Date", "by"],
            ["P1", "H1", "2020-01-31", "A", "2021-01-31", "B"]]

    def change(made):
        page = made.get_worksheet_by_name("A")
        for span, name in (("A1:B1", "Hose"), ("C1:D1", "In"), ("E1:F1", "Out")):
            page.merge_range(span, name)
    entry = ('[[file]]\nmatch = "*.xlsx"\nlog = "installations"\nheader_row = 2\n'
             'ignore = ["In by", "Out *"]\n[file.columns]\ninstalled_on = "In Date"\n'
             'service_point = "Place"\nhose_id = "Tag"\n')
    assert load(site, books({"A": rows}, change=change), entry) == [(3, "2020-01-31", "P1", "H1")]


UNITS = [["installed_on", "service_point", "hose_id", "Length", None, "Mass", None],
         [None, None, None, "mm", "in", "kg", "in"], ["2020-01-31", "P1", "H1", 1, 2, 3, 4]]


@pytest.mark.parametrize("row", ["", "header_row = 1\n", "header_row = 2\n"])
def test_a_row_of_units_below_merged_names_belongs_to_the_header(site, row):
    """Both rows know as many names: the second one is no hose of its own."""
    def change(made):
        page = made.get_worksheet_by_name("A")
        for span, name in (("A1:A2", "installed_on"), ("B1:B2", "service_point"),
                           ("D1:E1", "Length"), ("F1:G1", "Mass")):
            page.merge_range(span, name)
    entry = IGNORE.replace('"note", "text"', '"mm", "kg", "Mass in", "Length in"') + row
    assert load(site, books({"A": UNITS}, change=change), entry) == [(3, "2020-01-31", "P1", "H1")]


def test_many_formatted_rows_without_a_value_are_no_rows(site):
    empty = [[Styled(None, "0.00"), Styled(None, "0000")]]
    assert load(site, book([*PLAIN, *empty * 30_000])) == TWO
    assert site.rows("select n_records - n_blank from raw.loads") == [(3,)]
