"""Workbooks of many rows take no more memory than those of few."""

import tracemalloc

import openpyxl
import pytest

from etl.sheets import Sheet, book


def rows(n):
    for start in range(0, n, 1000):
        yield [(f"place {start + k}", start + k, 0.1 * k, "a sentence " * 10) for k in range(1000)]


def peak(n):
    tracemalloc.start()
    with book([Sheet("places", ["place", "number", "part", "words"], rows(n))]) as made:
        made.seek(0, 2)
        size = made.tell()
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return most, size


def test_memory_does_not_grow_with_the_rows_of_a_workbook():
    few, small = peak(2_000)
    many, large = peak(12_000)
    assert large > 4 * small
    assert many < 1.2 * few + 100_000


def test_a_workbook_leaves_no_file_behind(tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    with book([Sheet("a", ["x"], [[(1,)]])]) as made:
        assert openpyxl.load_workbook(made).active["A2"].value == 1
        assert list(tmp_path.iterdir()) == []


def test_rows_that_fail_half_way_leave_no_file_behind(tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))

    def broken():
        yield [(1,)]
        raise RuntimeError("the table could not be read on")

    with pytest.raises(RuntimeError):
        book([Sheet("a", ["x"], broken())])
    assert [path.name for path in tmp_path.iterdir() if path.suffix == ".xlsx"] == []
