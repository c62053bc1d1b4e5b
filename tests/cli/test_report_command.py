"""`braidlife report`: what it writes, and what it says where it cannot."""

import pytest
from openpyxl import load_workbook

from etl import run
from etl.errors import InputError
from tests.cli.test_commands import tiny_logs
from tests.faults.small import new_store


@pytest.fixture(scope="module")
def store(braidlife, tmp_path_factory):
    """Store with a few logs loaded; read it, never write to it."""
    folder = tmp_path_factory.mktemp("reported")
    store = new_store(folder / "store")
    done = braidlife("load", tiny_logs(folder / "logs"), "--store", store)
    assert done.returncode == 0, done.stderr
    return store


def test_report_of_a_store_without_parts_or_prices_is_written(braidlife, store, tmp_path):
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


def test_a_store_without_an_edition_is_said(braidlife, tmp_path):
    done = braidlife("report", "--store", tmp_path, "--out", tmp_path / "out")
    assert done.returncode == 2
    assert "braidlife load" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out").exists()


def test_a_folder_that_is_a_file_is_said(braidlife, store, tmp_path):
    out = tmp_path / "out"
    out.write_text("kept")
    done = braidlife("report", "--store", store, "--out", out)
    assert done.returncode == 2
    assert "out: could not be written" in done.stderr
    assert out.read_text() == "kept"


def test_an_earlier_month_is_made_of_the_same_logs_and_leaves_the_store_as_it_was(
        braidlife, store, tmp_path):
    before = {path: path.read_bytes() for path in store.rglob("*") if path.is_file()}
    done = braidlife("report", "--store", store, "--out", tmp_path / "out", "--month", "2021-03")
    assert done.returncode == 0, done.stderr
    assert "written: braidlife-2021-03.html" in done.stdout
    assert "In March" in (tmp_path / "out" / "braidlife-2021-03.html").read_text(encoding="utf-8")
    assert {path: path.read_bytes() for path in store.rglob("*") if path.is_file()} == before


def test_a_month_whose_edition_is_kept_is_reported_from_it(braidlife, tmp_path):
    store = new_store(tmp_path / "store")
    braidlife("load", tiny_logs(tmp_path / "logs"), "--store", store, "--as-of", "2022-04-30")
    braidlife("load", "--store", store, "--as-of", "2022-06-30")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(run, "load", None)  # nothing is built
        said = run.report(store, tmp_path / "out", "2022-04")
    assert "braidlife-2022-04.html" in said


@pytest.mark.parametrize(("month", "told"), [
    ("2022-13", "is not a month like"), ("may", "is not a month like"),
    ("2031-01", "the logs reach 2022-06"),
])
def test_a_month_that_cannot_be_is_said(braidlife, store, tmp_path, month, told):
    done = braidlife("report", "--store", store, "--out", tmp_path / "out", "--month", month)
    assert done.returncode == 2
    assert told in done.stderr
    assert not (tmp_path / "out").exists()


def test_the_ending_of_a_file_says_what_is_wanted(store, tmp_path, monkeypatch):
    out = tmp_path / "out"
    assert run.report(store, out / "june.xlsx") == "written: june.xlsx"
    assert load_workbook(out / "june.xlsx")["this month"].max_row > 1
    assert run.report(store, out / "June.HTML") == "written: June.HTML"
    assert "In June" in (out / "June.HTML").read_text(encoding="utf-8")
    monkeypatch.setenv("BRAIDLIFE_CHROMIUM", "no-such-program")
    with pytest.raises(InputError, match="june.pdf: not written. No PDF: no Chromium was found"):
        run.report(store, out / "june.pdf")
    assert sorted(path.name for path in out.iterdir()) == ["June.HTML", "june.xlsx"]
