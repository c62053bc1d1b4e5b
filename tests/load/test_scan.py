import csv
import io
from unittest import mock

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from etl.load import scan as scan_module
from etl.load.delimited import Job, read_delimited
from etl.load.extract import Dialect, Wanted
from etl.load.quoting import BLANK_SIGNS
from etl.load.scan import scan
from etl.load.warehouse import connect

CELL = st.sampled_from(["x", "", "1", "a,b", 'say "no"', "two\nlines", "é", '3/4"', "\n", "Ω"])
RECORD = st.one_of(st.just([]), st.lists(CELL, min_size=1, max_size=3),
                   st.lists(CELL, min_size=2, max_size=2))


def written(records, line_end, ends_with_newline):
    out = io.StringIO(newline="")
    for record in records:
        if record:
            csv.writer(out, lineterminator=line_end).writerow(record)
        else:
            out.write(line_end)
    text = out.getvalue()
    return text if ends_with_newline else text.removesuffix(line_end)


@settings(max_examples=200, deadline=None)
@given(st.lists(RECORD, max_size=8), st.sampled_from(["\n", "\r\n"]), st.booleans(),
       st.sampled_from([1, 2, 3, 7, 1 << 17]))
def test_scan_counts_records_and_blanks_as_the_csv_module_does(
    tmp_path_factory, records, line_end, whole, block
):
    text = written(records, line_end, whole)
    path = tmp_path_factory.mktemp("scan") / "x.csv"
    path.write_bytes(text.encode())
    before = scan_module.BLOCK
    scan_module.BLOCK = block
    try:
        found = scan(path)
    finally:
        scan_module.BLOCK = before
    expected = list(csv.reader(io.StringIO(text, newline="")))
    assert found.n_records == len(expected)
    assert found.blanks == [number for number, cells in enumerate(expected, 1) if not cells]
    assert found.is_utf8
    assert not found.ends_in_quote
    assert found.n_return == 0


EDGES = st.sampled_from(["", "", "", *BLANK_SIGNS])
INNER = st.sampled_from(["x", "a b", "1", "a - b", "é", "€", "", "a,b", "a\u00a0b", "(a) b"])
EDGED = st.builds("".join, st.tuples(EDGES, INNER, EDGES))


@settings(max_examples=300, deadline=None)
@given(st.lists(st.lists(EDGED, min_size=2, max_size=3), min_size=1, max_size=4),
       st.sampled_from([",", ";", "\t", "|"]), st.sampled_from(["\n", "\r\n"]), st.booleans(),
       st.sampled_from([1, 2, 3, 7, 1 << 17]))
def test_a_cell_with_a_blank_at_its_edge_is_never_missed(
    tmp_path_factory, records, delimiter, line_end, whole, block
):
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter, lineterminator=line_end).writerows(records)
    text = out.getvalue() if whole else out.getvalue().removesuffix(line_end)
    path = tmp_path_factory.mktemp("blanks") / "x.csv"
    path.write_bytes(text.encode())
    with mock.patch.object(scan_module, "BLOCK", block):
        found = scan(path)
    # A mark of the encoding at the very start of a file is no part of its first cell.
    plain = io.StringIO(text.removeprefix("\ufeff"), newline="")
    read = csv.reader(plain, delimiter=delimiter)
    if any(cell != cell.strip(BLANK_SIGNS) for cells in read for cell in cells):
        # A file of mixed line ends is made alike and looked at again.
        assert found.may_hold_outer_blanks(delimiter) or found.has_mixed_line_ends


@pytest.mark.parametrize(("text", "may"), [
    ("a,b\nsteam to drum,x\n", False), ("a,b\npump (left) - no. 5,x\n", False),
    ('a,b\n"one; two",x\n', False), ("a,b\nzum Gerüst,x\n", False),
    ("a,b\nx ,y\n", True), ("a,b\nx, y\n", True), (" a,b\n", True), ("a,b\nx,y ", True),
    ('a,b\n" x",y\n', True), ('a,b\n"x\n",y\n', True), ("a,b\nx\t,y\n", True),
    ("a,b\nx\u00a0,y\n", True),
])
def test_blanks_within_cells_do_not_count(tmp_path, text, may):
    path = tmp_path / "x.csv"
    path.write_bytes(text.encode())
    assert scan(path).may_hold_outer_blanks(",") is may


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(RECORD, max_size=12), st.sampled_from(["\n", "\r\n"]), st.booleans())
def test_read_delimited_numbers_rows_and_faults_as_the_csv_module_does(
    tmp_path_factory, records, line_end, whole
):
    text = written([["head", "tail"], *records], line_end, whole)
    folder = tmp_path_factory.mktemp("read")
    path = folder / "x.csv"
    path.write_bytes(text.encode())
    good, faulty, blank = {}, set(), 0
    for number, cells in enumerate(csv.reader(io.StringIO(text, newline="")), start=1):
        if number == 1:
            continue
        if not cells:
            blank += 1
        elif len(cells) < 2 or any(cells[2:]):
            faulty.add(number)
        else:
            good[number] = tuple(cell.replace("\r\n", "\n") or None for cell in cells[:2])
    with connect() as con:
        job = Job(con, path, "x.csv", "raw.file_1", folder,
                  Wanted(frozenset({"head", "tail"})), Dialect())
        extract = read_delimited(job)
        rows = con.execute(
            f"select {extract.row_number}, c0, c1 from {extract.table}").fetchall()
        faults = con.execute(f"select source_row from {extract.unreadable}").fetchall()
    # Text in which a cell holds a line end may have been brought to one kind of line end.
    assert {number: tuple(cell and cell.replace("\r\n", "\n") for cell in cells)
            for number, *cells in rows} == good
    assert sorted(number for number, in faults) == sorted(faulty)
    assert extract.n_blank == blank
    assert extract.n_records == 1 + len(good) + len(faulty) + blank


@pytest.mark.parametrize(("content", "field", "value"), [
    (b"a\0b\n", "n_nul", 1),
    (b'a,"b\n', "ends_in_quote", True),
    (b"caf\xe9\n", "is_utf8", False),
    (b"a\nb\r\n", "has_mixed_line_ends", True),
    (b"a\rb\r", "n_return", 2),
    (b"#N/A,#DIV/0!\n", "n_error_marks", 2),
    (b"1.23457E+17\n", "has_power", True),
    (b"1.2e+17\n", "has_power", True),
    (b"E,+1\n2026-11-01T10:00+01:00\n", "has_power", False),
    (b"x" * (scan_module.BLOCK - 1) + b"E+17\n", "has_power", True),
    (b"\xef\xbb\xbf\n", "n_records", 1),
    (b"", "n_records", 0),
], ids=["zero byte", "open quote", "not UTF-8", "mixed line ends", "lone returns", "error marks",
        "powers", "small powers", "no powers", "powers over the edge of a block",
        "byte order mark", "empty"])
def test_scan_finds(tmp_path, content, field, value):
    path = tmp_path / "x.csv"
    path.write_bytes(content)
    assert getattr(scan(path), field) == value
