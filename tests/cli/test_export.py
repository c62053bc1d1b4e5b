"""Every table goes out in every format and comes back equal; nothing in it can run."""

import datetime as dt
import decimal
import re
import shutil
from pathlib import Path

import duckdb
import pytest
from openpyxl import load_workbook

from etl import run
from etl.build.published import PUBLISHED
from etl.errors import InputError, StoreError
from etl.load.columns import LOGS
from etl.load.publish import current_edition
from tests.faults.small import FIRST, SECOND, new_store, write_logs

HOSTILE = [
    "=1+1", "+44", "-5", "@SUM(A1)", "  =1", "\t=1", "'=1", "''x", "'x", "007", "1e5", "", " ",
    'a "quoted", text', "two\r\nlines", "Å √ 漢 😀", "NULL", "_x0041_", "a\x01b",
    "true", "2020-01-01", "a;=1+1", "a; '=1;-2", "a\t@x", 'a;"=1"', "x\n- y", "a;b",
    "a;'b", "a - b",
]


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    """Small store in whose table of refused rows every hostile text stands."""
    folder = tmp_path_factory.mktemp("export")
    store = new_store(folder / "store")
    run.load(write_logs(folder / "logs", FIRST, SECOND), store)
    with duckdb.connect(str(current_edition(store))) as con:
        for number, text in enumerate([*HOSTILE, None]):
            con.execute("insert into refused values ('log', ?, ?, 'x', ?, ?, 'y')",
                        [text or "f", number, text, text])
        con.execute("insert into trials (trial, started_on) values ('old', date '1899-12-31')")
    return store


def published(store, table):
    with duckdb.connect(str(current_edition(store)), read_only=True) as con:
        result = con.execute(f'select * from "{table}"')
        return [column[0] for column in result.description], result.fetchall()


def text_again(cell):
    """Take off the apostrophes that keep a text from running."""
    runs = ("=", "+", "-", "@", "\t", "\r", "\n")
    cell = cell[1:] if cell[:1] == "'" and cell.lstrip(" '").startswith(runs) else cell
    return re.sub("([;\t\r\n])'(?=[ '\"]*[=+@-])", r"\1", cell)


def is_same(cell, value, exact):
    """Compare a cell that was read back with the published value."""
    if value is None or cell is None:
        return cell is None and value is None
    if isinstance(value, bool):
        return cell == ("yes" if value else "no")
    if isinstance(value, (int, float, decimal.Decimal)):
        return float(cell) == pytest.approx(float(value), rel=0 if exact else 1e-15, abs=0)
    if isinstance(value, dt.date):
        return cell == (value.isoformat() if isinstance(cell, str) else
                        dt.datetime.combine(value, dt.time()))
    if isinstance(value, list):
        return cell == ", ".join(value)
    return text_again(cell) == value


def comes_back(rows, expected, exact=True):
    assert len(rows) == len(expected)
    for row, wanted in zip(rows, expected, strict=True):
        assert all(is_same(cell, value, exact) for cell, value in zip(row, wanted, strict=True)), (
            row, wanted)


@pytest.mark.parametrize("table", PUBLISHED)
def test_parquet_keeps_every_value_and_type(store, tmp_path, table):
    names, rows = published(store, table)
    assert run.export(store, table, tmp_path / "t.parquet") == len(rows)
    back = duckdb.sql(f"select * from '{tmp_path}/t.parquet'")
    assert back.columns == names
    assert repr(back.fetchall()) == repr(rows)


@pytest.mark.parametrize("table", PUBLISHED)
def test_csv_comes_back_equal_and_tells_nothing_from_empty(store, tmp_path, table):
    names, rows = published(store, table)
    assert run.export(store, table, tmp_path / "t.csv") == len(rows)
    back = duckdb.sql(f"from read_csv('{tmp_path}/t.csv', all_varchar=true, header=true, "
                      "allow_quoted_nulls=false, delim=',', quote='\"', escape='\"', "
                      "auto_detect=false, columns={" +
                      ", ".join(f"'{name}': 'VARCHAR'" for name in names) + "})")
    comes_back(back.fetchall(), rows)


@pytest.mark.parametrize("table", PUBLISHED)
def test_workbooks_come_back_equal(store, tmp_path, table):
    names, rows = published(store, table)
    assert run.export(store, table, tmp_path / "t.xlsx") == len(rows)
    sheet = load_workbook(tmp_path / "t.xlsx").active
    head, *back = list(sheet.iter_rows(values_only=True))
    assert list(head) == names
    assert not [cell for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]
    # Workbooks hold 16 digits, line ends of one kind, and control characters as codes.
    comes_back([[text_of(cell) for cell in row] for row in back],
               [[text_of(value) for value in row] for row in rows], exact=False)


def text_of(cell):
    if not isinstance(cell, str):
        return cell
    return cell.replace("\r\n", "\n").replace("_x000D_", "").replace("_x0001_", "\x01").replace(
        "_x005F_", "_")


@pytest.mark.parametrize("log", LOGS)
@pytest.mark.parametrize("ending", ["csv", "xlsx", "parquet"])
def test_the_rows_of_every_log_as_they_are_used(store, tmp_path, log, ending):
    out = tmp_path / f"t.{ending}"
    n_rows = run.export(store, f"clean.{log}", out)
    with duckdb.connect(str(current_edition(store)), read_only=True) as con:
        n_used = con.execute("select coalesce(sum(n_clean), 0) from loads where log = ?",
                             [log]).fetchall()[0][0]
    assert n_rows == n_used
    if ending == "parquet" and log == "installations":
        rows = duckdb.sql(f"select source_file, source_row, hose_id, installed_on from '{out}'")
        assert rows.fetchall()[0] == ("installations.csv", 2, "007", dt.date(2020, 1, 1))


def test_a_wrong_name_is_answered_with_the_nearest_one(store, tmp_path):
    with pytest.raises(InputError, match=r"Did you mean 'clean.installations'"):
        run.export(store, "clean.instalations", tmp_path / "t.csv")
    with pytest.raises(InputError, match=r"no published table 'lives; drop table lives'"):
        run.export(store, "lives; drop table lives", tmp_path / "t.csv")
    with pytest.raises(InputError, match="ending must be one of"):
        run.export(store, "lives", tmp_path / "t.ods")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("ending", ["csv", "xlsx", "parquet"])
def test_a_full_disk_leaves_the_older_export(store, tmp_path, ending):
    import resource

    out = tmp_path / f"t.{ending}"
    out.write_text("older")
    resource.setrlimit(resource.RLIMIT_FSIZE, (2_000, -1))
    try:
        with pytest.raises(InputError, match=rf"t.{ending}: could not be written") as caught:
            run.export(store, "life_curves", out)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (-1, -1))
    assert str(tmp_path) not in str(caught.value)
    assert out.read_text() == "older"
    assert list(tmp_path.iterdir()) == [out]


def test_a_damaged_edition_is_said(store, tmp_path):
    copy = Path(shutil.copytree(store, tmp_path / "store"))
    current_edition(copy).write_bytes(current_edition(copy).read_bytes()[:5000])
    with pytest.raises(StoreError, match=r"edition-000001.duckdb: damaged.*braidlife load"):
        run.export(copy, "lives", tmp_path / "t.csv")
