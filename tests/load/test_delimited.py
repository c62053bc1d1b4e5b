import pytest

from etl.load.crowded import is_crowded

HEAD = "installed_on,service_point,hose_id\n"
ROW = "2020-01-01,P1,H1\n"
NAME = "installations.csv"
ROWS = "select source_row, installed_on, service_point, hose_id from raw.installations order by all"
WHOLE = [(2, "2020-01-01", "P1", "H1")]


@pytest.mark.parametrize("content", [
    HEAD + ROW,
    (HEAD + ROW).replace("\n", "\r\n"),
    (HEAD + ROW).replace("\n", "\r"),
    "\ufeff" + HEAD + ROW,
    (HEAD + ROW).replace(",", ";"),
    (HEAD + ROW).replace(",", "\t"),
    (HEAD + ROW).replace(",", "|"),
    (HEAD + ROW).encode("utf-16"),
    '"installed_on","service_point","hose_id"\n"2020-01-01","P1","H1"\n',
    "Installed On,service-point,HOSE_ID\n" + ROW,
    HEAD + ROW.rstrip(),
], ids=["plain", "return newline", "return", "mark", "semicolon", "tab", "bar", "UTF-16", "quoted",
        "spelling", "no last newline"])
def test_forms_that_read_alike(site, content):
    site.write(NAME, content)
    site.load()
    assert site.rows(ROWS) == WHOLE
    assert site.is_balanced()


def test_cells_are_kept_exactly(site):
    site.write(NAME, HEAD + '2020-01-01,  P1\u00a0,00123\n1E5,"a, ""b""\nc",=1+1\nT,NA,inf\n')
    site.load()
    assert site.rows(ROWS) == [
        (2, "2020-01-01", "  P1\u00a0", "00123"), (3, "1E5", 'a, "b"\nc', "=1+1"),
        (4, "T", "NA", "inf")]


def test_a_tsv_file_is_read_by_its_tabs(site):
    site.write("installations.tsv", "installed_on\tservice_point\n2020-01-01\tP,1;2\n")
    site.load()
    assert site.rows("select service_point from raw.installations") == [("P,1;2",)]


@pytest.mark.parametrize(("encoding", "said"), [("cp1252", "cp1252"), ("latin-1", "latin-1")])
def test_western_encodings_are_recorded_as_corrections(site, encoding, said):
    text = "é\x81" if encoding == "latin-1" else "é€"
    site.write(NAME, (HEAD + f"2020-01-01,{text},H1\n").encode(encoding))
    site.load()
    assert site.rows("select service_point from raw.installations") == [(text,)]
    assert (None, f"text was not UTF-8: read as {said}", 1) in site.corrections()


def test_mixed_line_ends_are_recorded_as_a_correction(site):
    site.write(NAME, HEAD + ROW + ROW.replace("\n", "\r\n") + ROW.replace("\n", "\r"))
    site.load()
    assert [row[0] for row in site.rows(ROWS)] == [2, 3, 4]
    assert (None, "line ends made alike", 2) in site.corrections()


def test_row_numbers_count_blank_lines_and_unreadable_records(site):
    site.write(NAME, HEAD + "\n" + ROW + "2020-01-02,P2\n\n" + '2020-01-03,"P\n3",H3\n'
               + "2020-01-04,P4,H4,5,6\n" + '2020-01-05,"P5"x,H5\n' + ROW + "\n\n")
    site.load()
    assert [row[0] for row in site.rows(ROWS)] == [3, 6, 9]
    assert site.rows("select source_row, reason from raw.unreadable order by all") == [
        (4, "fewer cells than the header names"), (7, "more cells than the header names"),
        (8, "text after a closing quote")]
    assert site.rows("select n_records, n_blank, n_unreadable from raw.loads") == [(11, 4, 3)]
    assert site.is_balanced()


def test_the_careful_reader_gives_the_same_account(site):
    """An inch mark inside an unquoted cell sends the file to the record-by-record reader."""
    site.write(NAME, HEAD + "\n" + '2020-01-01,3/4" pipe,H1\n' + "2020-01-02,P2\n\n"
               + '2020-01-03,"P\n3",H3\n' + "2020-01-04,P4,H4,5,6\n"
               + '2020-01-05,"P5"x,H5\n' + ROW)
    site.load()
    assert [row[0] for row in site.rows(ROWS)] == [3, 6, 9]
    assert site.rows("select service_point from raw.installations order by source_row") == [
        ('3/4" pipe',), ("P\n3",), ("P1",)]
    assert site.rows("select source_row from raw.unreadable order by all") == [(4,), (7,), (8,)]
    assert site.is_balanced()


def test_a_zero_byte_refuses_its_row_only(site):
    site.write(NAME, HEAD + ROW + "2020-01-02,P\0X,H2\n" + ROW)
    site.load()
    assert [row[0] for row in site.rows(ROWS)] == [2, 4]
    assert site.rows("select source_row, column_name, value, reason from raw.unreadable") == [
        (3, "service_point", "P\\0X", "a zero byte inside the cell")]


@pytest.mark.parametrize("quote", ["", '"'], ids=["bare", "quoted"])
def test_a_cell_of_50_megabytes_refuses_its_row_only(site, quote):
    site.write(NAME, HEAD + ROW + f"2020-01-02,{quote}{'x' * 50_000_000}{quote},H2\n" + ROW)
    site.load()
    assert [row[0] for row in site.rows(ROWS)] == [2, 4]
    [(row, value, reason)] = site.rows("select source_row, value, reason from raw.unreadable")
    assert row == 3
    assert len(value) <= 200
    assert "characters" in reason


def test_a_row_of_many_long_cells_refuses_its_file_only(site):
    names = ("work_order", "part_number", "construction", "row_id", "age_at_installation")
    cells = ",".join(["x" * 1_900_000] * 9)
    site.write("installations.csv", "installed_on,service_point,hose_id," + ",".join(names)
               + ",deleted\n" + cells + "\n")
    site.write("service_points.csv", "service_point,application_class\nP1,a\n")
    site.load()
    assert "a row is longer than 16,000,000 bytes" in site.refusal("installations.csv")
    assert site.status("service_points.csv") == ("loaded", None)


@pytest.mark.parametrize("second", [ROW, "2020-01-01,3/4\" pipe,H1\n"],
                         ids=["odd quotes", "even quotes"])
def test_a_quote_never_closed_refuses_the_file_and_says_where(site, second):
    site.write(NAME, HEAD + second + '2020-01-02,"P2,H2\n' + ROW * 3)
    site.write("service_points.csv", "service_point,application_class\nP1,a\n")
    site.load()
    assert "row 3: a quoted cell opens here" in site.refusal(NAME)
    assert site.status("service_points.csv") == ("loaded", None)
    assert site.rows("select count(*) from raw.installations") == [(0,)]


@pytest.mark.parametrize(("name", "content", "said"), [
    (NAME, b"", "is empty"),
    (NAME, b"\n \n", "is empty"),
    (NAME, (HEAD + ROW).encode("utf-16-le"), 'encoding = "utf-16-le"'),
    (NAME, b"PK\x03\x04rest", "a workbook or archive, not text"),
    (NAME, b"PAR1rest", "is Parquet, not text"),
    ("installations.parquet", b"installed_on\n", "not a readable Parquet file"),
    ("installations.xls", b"\xd0\xcf\x11\xe0rest", "Save it as XLSX or CSV"),
], ids=["empty", "blank", "UTF-16 without mark", "zip", "parquet", "no parquet", "old binary"])
def test_unreadable_files_say_why_and_the_others_load(site, name, content, said):
    site.write(name, content)
    site.write("service_points.csv", "service_point,application_class\nP1,a\n")
    site.load()
    message = site.refusal(name)
    assert said in message
    assert str(site.store) not in message
    assert site.status("service_points.csv") == ("loaded", None)


TEXT = (HEAD + ROW).replace("H1", "H\u00e4").encode("cp1252")


@pytest.mark.parametrize(("declared", "content", "said"), [
    ("utf-8", TEXT, "not utf-8 text"),
    ("utf-8", TEXT.replace(b"P1", b'"P"1'), "not utf-8 text"),
    ("ascii", TEXT, "not ascii text"),
    ("utf-16", TEXT, "not utf-16 text"),
    ("raw_unicode_escape", (HEAD + ROW).replace("H1", "\\ud800").encode(), "text"),
    *[(name, TEXT, "is not known")
      for name in ("rot13", "hex", "zlib", "uu", "nonsense", "\\u0000")],
], ids=lambda cell: cell if isinstance(cell, str) else "")
def test_a_declared_encoding_that_does_not_fit_refuses_its_file_only(site, declared, content, said):
    site.write(NAME, content)
    site.write("service_points.csv", "service_point,application_class\nP1,a\n")
    site.write("columns.toml", f'[[file]]\nmatch = "{NAME}"\nlog = "installations"\n'
                               f'encoding = "{declared}"\n')
    site.load()
    assert said in site.refusal(NAME)
    assert site.status("service_points.csv") == ("loaded", None)


def test_a_file_whose_records_do_not_fit_its_header_is_refused_as_a_whole(site):
    site.write(NAME, HEAD + ROW * 20 + "2020-01-01,P1,H1,x\n" * 30)
    site.load()
    assert "row 22: more cells than the header names, and so in 30 of 51 records" in site.refusal(
        NAME)


def test_rows_above_the_header_are_left_out(site):
    site.write(NAME, "Export of works north;;\n\nprinted;2020;\n" + (HEAD + ROW).replace(",", ";"))
    site.load()
    assert site.rows(ROWS) == [(5, *WHOLE[0][1:])]
    assert (None, "rows above the header left out", 3) in site.corrections()
    assert site.is_balanced()


def test_totals_and_empty_rows_at_the_end_are_left_out(site):
    site.write(NAME, HEAD + ROW + ",,\nTotal,1,\n,,\n")
    site.load()
    assert site.rows(ROWS) == WHOLE
    assert (None, "rows of totals at the end left out", 1) in site.corrections()
    assert site.rows("select n_blank, n_skipped from raw.loads") == [(2, 1)]
    assert site.is_balanced()


def test_a_place_called_total_is_no_total(site):
    site.write("service_points.csv", "service_point,application_class\nP1,a\nTotal,a\n")
    site.load()
    assert site.rows("select count(*) from raw.service_points") == [(2,)]


def test_error_marks_of_a_spreadsheet_are_read_as_empty_and_counted(site):
    site.write(NAME, HEAD + "2020-01-01,P1,#N/A\n2020-01-02,P2,#REF!\n2020-01-03,P#1,#4\n")
    site.load()
    assert [row[3] for row in site.rows(ROWS)] == [None, None, "#4"]
    assert site.corrections() == [("hose_id", "error marks of a spreadsheet read as empty", 2)]


def test_a_trailing_delimiter_makes_no_column(site):
    site.write(NAME, "installed_on,service_point,hose_id,\n2020-01-01,P1,H1,\n")
    site.load()
    assert site.rows(ROWS) == WHOLE
    assert site.rows("select other_cells from raw.installations") == [(None,)]


def test_hostile_text_stays_text(site):
    hostile = "'); drop table raw.loads; --"
    site.write("north '); drop table x; --[*].csv", f'installed_on,service_point,"{hostile}"\n'
               f'2020-01-01,"{hostile}",<script>\n')
    site.write("columns.toml", '[[file]]\nmatch = "north*"\nlog = "installations"\n'
               f'ignore = ["{hostile}"]\n[file.constants]\nhose_id = "{hostile}"\n')
    site.load()
    assert site.rows("select service_point, hose_id from raw.installations") == [(hostile, hostile)]
    assert site.rows("select other_cells from raw.installations") == [
        ('{"' + hostile + '":"<script>"}',)]


def test_numbering_is_exact_over_many_blocks(site):
    """Several parallel blocks, with one blank and one ragged record in a hundred."""
    expected, lines = [], []
    for number in range(2, 60_000):
        if number % 100 == 7:
            lines.append("\n")
        elif number % 100 == 13:
            lines.append("short\n")
        else:
            quoted = f'"P\n{number}"' if number % 10 == 0 else f"P{number}"
            lines.append(f"2020-01-01,{quoted},{number}\n")
            expected.append(number)
    site.write(NAME, HEAD + "".join(lines))
    site.load()
    assert site.rows("select count(*) from raw.installations where source_row::varchar = hose_id") \
        == [(len(expected),)]
    assert site.is_balanced()


def test_a_line_of_cells_too_many_is_refused_as_fast_as_it_is_read(site):
    """Noting each cell with its whole line would take minutes; found by fuzzing."""
    head = "installed_on,service_point,hose_id\n" + "2020-01-31,P1,H1\n" * 3
    site.write("installations.csv", head + "x," * 200_000 + "\n2020-02-01,P1,H2\n")
    site.load()
    assert site.is_balanced()
    assert site.rows("select source_row from raw.unreadable") == [(5,)]
    assert site.rows("select count(*) from raw.installations") == [(4,)]


@pytest.mark.parametrize(("text", "crowded"), [
    ("a,b\n1,2\n" * 50_000, False), ("a,b\n1,2\n" + "1,2,3,4,5,6\n" * 50_000, True),
    ('a,b\n' + '1,"x, y, z, and so on, and so on"\n' * 5_000, False), ("", False),
    ('a,b\n' + '1,"x\ny\nz"\n' * 50_000, False),
    ("a,b\n" + "1\n1,2\n" * 50_000, True), ("a,b\n" + "1\n" + "1,2\n" * 50_000, False),
    ('a,b\n' + '1"y"5,"P"7,H"\n"' * 50_000, True)])
def test_crowded_files_are_told_from_those_with_commas_in_notes(tmp_path, text, crowded):
    (tmp_path / "x.csv").write_text(text, encoding="utf-8")
    assert is_crowded(tmp_path / "x.csv", ",", 2) is crowded
