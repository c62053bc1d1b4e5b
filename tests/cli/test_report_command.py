"""`braidlife report`: what it writes, and what it says where it cannot."""

from openpyxl import load_workbook

from tests.cli.test_commands import braidlife, tiny_logs


def test_report_of_a_store_without_parts_or_prices_is_written(tmp_path):
    store = tmp_path / "store"
    assert braidlife("load", tiny_logs(tmp_path / "logs"), "--store", store).returncode == 0
    done = braidlife("report", "--store", store, "--out", tmp_path / "out")
    assert done.returncode == 0, done.stderr
    assert "written: braidlife-2022-06.html" in done.stdout
    text = (tmp_path / "out" / "braidlife-2022-06.html").read_text(encoding="utf-8")
    assert "In June" in text
    assert "No part with a stock log" in text
    book = load_workbook(tmp_path / "out" / "braidlife-2022-06.xlsx")
    assert book["orders"].max_row == 1
    assert book["budget"].max_row == 1
    assert book["ten places"].max_row == 3


def test_a_store_without_an_edition_is_said(tmp_path):
    done = braidlife("report", "--store", tmp_path, "--out", tmp_path / "out")
    assert done.returncode == 2
    assert "braidlife load" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out").exists()


def test_a_folder_that_is_a_file_is_said(tmp_path):
    store, out = tmp_path / "store", tmp_path / "out"
    braidlife("load", tiny_logs(tmp_path / "logs"), "--store", store)
    out.write_text("kept")
    done = braidlife("report", "--store", store, "--out", out)
    assert done.returncode == 2
    assert "out: could not be written" in done.stderr
    assert out.read_text() == "kept"
