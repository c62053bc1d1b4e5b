"""The commands as a user types them: output, exit status, and what they leave behind."""

import json
import shutil
from pathlib import Path

import duckdb
import pytest
from openpyxl import load_workbook

from etl import run
from etl.load.publish import current_edition, current_number
from tests.build.track_fleet import SETTINGS as TRACK
from tests.faults.small import new_store

NIST = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386]


@pytest.fixture
def nist_file(tmp_path):
    path = tmp_path / "lives.csv"
    rows = [f"{time},failed" for time in NIST] + ["500,suspended"] * 10
    path.write_text("time,kind\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return path


def tiny_logs(folder: Path) -> Path:
    folder.mkdir()
    (folder / "service_points.csv").write_text(
        "service_point,application_class\nA,loop\nB,loop\n", encoding="utf-8")
    (folder / "installations.csv").write_text(
        "installed_on,service_point\n2020-01-01,A\n2021-01-01,A\n2020-01-01,B\n", encoding="utf-8")
    (folder / "replacements.csv").write_text(
        "removed_on,service_point,reason\n2021-01-01,A,failed\n2022-06-01,A,failed\n",
        encoding="utf-8")
    return folder


@pytest.mark.parametrize("words", [("check", "--help"), ("fit", "{tmp}/none.csv"), ("nothing",)],
                         ids=["helps", "cannot", "unknown"])
def test_a_command_says_the_same_in_a_process_of_its_own(braidlife, started, tmp_path, words):
    """Other tests run commands in forks of one process, which must make no difference."""
    typed = [word.format(tmp=tmp_path) for word in words]
    fork, own = braidlife(*typed), started(*typed)
    assert own.returncode == (0 if "--help" in words else 2)
    assert (fork.returncode, fork.stdout, fork.stderr) == (own.returncode, own.stdout, own.stderr)


# NIST/SEMATECH e-Handbook of Statistical Methods, section 8.4.1.3.
def test_fit_json_gives_the_published_estimates(started, nist_file):
    done = started("fit", nist_file, "--json")
    assert done.returncode == 0, done.stderr
    result = json.loads(done.stdout)
    group = result["groups"][0]
    assert (group["failures"], group["suspensions"], group["intervals"]) == (10, 10, 0)
    assert group["status"] == "ok"
    assert group["shape"]["estimate"] == pytest.approx(1.7208, abs=1e-4)
    assert group["characteristic_life"]["estimate"] == pytest.approx(606.5280, abs=1e-3)
    assert group["log_likelihood"] == pytest.approx(-75.135, abs=1e-3)
    assert set(group) == {
        "group", "failures", "suspensions", "intervals", "status", "shape", "characteristic_life",
        "b10", "log_likelihood", "method", "notes",
    }
    assert result["confidence"] == 0.90
    assert result["refused"] == []


def test_fit_refuses_a_bad_row_and_says_so_in_its_exit_status(braidlife, nist_file):
    nist_file.write_text(nist_file.read_text() + "soon,failed\n", encoding="utf-8")
    done = braidlife("fit", nist_file, "--json")
    assert done.returncode == 1
    assert len(json.loads(done.stdout)["refused"]) == 1


@pytest.mark.parametrize("command", ["demo", "check", "load", "fit", "serve", "export"])
def test_every_command_has_help(braidlife, command):
    done = braidlife(command, "--help")
    assert done.returncode == 0
    assert "Usage" in done.stdout


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("load", "nowhere", "--store", "{tmp}/s"), "nowhere"),
        (("export", "ranking", "--out", "{tmp}/x.csv", "--store", "{tmp}/s"), "no edition yet"),
        (("fit", "{tmp}/none.csv"), "none.csv"),
        (("load", "--store", "{tmp}/s"), "holds no logs yet"),
        (("load", "x", "--store", "{tmp}/s", "--as-of", "2026-13-01"), "is not a date like"),
        (("load", "x", "--store", "{tmp}/s", "--as-of", "9999-01-01"), "has not come yet"),
        (("serve", "--host", "0.0.0.0", "--store", "{tmp}/s"), "no accounts"),
    ],
)
def test_an_unusable_call_is_one_sentence_and_status_2(braidlife, tmp_path, args, words):
    done = braidlife(*(str(arg).format(tmp=tmp_path) for arg in args))
    assert done.returncode == 2
    assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert str(tmp_path) not in done.stderr


def test_load_publishes_and_loading_again_gives_the_same_tables(braidlife, tmp_path):
    logs = tiny_logs(tmp_path / "logs")
    store = new_store(tmp_path / "store")
    first = braidlife("load", logs, "--store", store, "--json")
    assert first.returncode == 0, first.stderr
    assert json.loads(first.stdout)["n_failures"] == 2
    tables = ("lives", "fits", "ranking", "spares", "refused", "log_rows")
    before = {table: exported(tmp_path, table) for table in tables}
    again = braidlife("load", logs, "--store", store, "--json")
    assert json.loads(again.stdout)["files_already_loaded"] == 3
    assert {table: exported(tmp_path, table) for table in tables} == before


def exported(folder: Path, table: str) -> bytes:
    out = folder / f"{table}.csv"
    run.export(folder / "store", table, out)
    return out.read_bytes()


def test_a_file_that_cannot_be_read_leaves_the_others_and_status_1(braidlife, tmp_path):
    logs = tiny_logs(tmp_path / "logs")
    (logs / "parts.xlsx").write_bytes(b"this is no workbook")
    done = braidlife("load", logs, "--store", new_store(tmp_path / "store"))
    assert done.returncode == 1
    assert "parts.xlsx" in done.stdout
    assert current_number(tmp_path / "store") == 1


def test_refused_rows_above_the_limit_set_the_exit_status(braidlife, tmp_path):
    logs = tiny_logs(tmp_path / "logs")
    with (logs / "replacements.csv").open("a", encoding="utf-8") as file:
        file.write("31/02/2022,B,failed\n")
    store = new_store(tmp_path / "s")
    assert braidlife("load", logs, "--store", store).returncode == 1
    assert braidlife("load", logs, "--store", store, "--refused-limit", 0.5).returncode == 0


def test_check_lists_what_would_be_refused_without_loading(braidlife, tmp_path):
    logs = tiny_logs(tmp_path / "logs")
    with (logs / "replacements.csv").open("a", encoding="utf-8") as file:
        file.write("31/02/2022,B,failed\n")
    done = braidlife("check", logs)
    assert done.returncode == 1
    assert "31/02/2022" in done.stdout


def test_a_data_date_suspends_what_was_open_then(braidlife, tmp_path):
    logs = tiny_logs(tmp_path / "logs")
    store = new_store(tmp_path / "store")
    done = braidlife("load", logs, "--store", store, "--as-of", "2021-06-01", "--json")
    assert json.loads(done.stdout)["as_of"] == "2021-06-01"
    assert json.loads(done.stdout)["n_failures"] == 1


def test_a_load_makes_the_track_record_only_when_asked(braidlife, tmp_path):
    logs, store = tiny_logs(tmp_path / "logs"), new_store(tmp_path / "store")
    (store / "settings.toml").write_text(TRACK, encoding="utf-8")
    assert "forecasting from" not in braidlife("load", logs, "--store", store).stderr
    done = braidlife("load", "--store", store, "--track-record")
    assert done.returncode == 0, done.stderr
    assert "forecasting from" in done.stderr
    out = tmp_path / "scores.csv"
    assert braidlife("export", "track_scores", "--store", store, "--out", out).returncode == 0
    assert out.read_text(encoding="utf-8-sig").startswith("basis,scope,horizon_months")


@pytest.mark.parametrize("ending", ["csv", "xlsx", "parquet"])
def test_export_writes_what_a_spreadsheet_will_not_run(demo_store, tmp_path, ending):
    store = Path(shutil.copytree(demo_store, tmp_path / "store"))
    with duckdb.connect(str(current_edition(store))) as con:
        con.execute("update refused set value = '=1+1' where source_row = "
                    "(select min(source_row) from refused)")
        n_rows = con.execute("select count(*) from refused").fetchall()[0][0]
    out = tmp_path / f"refused.{ending}"
    assert run.export(store, "refused", out) == n_rows
    if ending == "csv":
        assert "'=1+1" in out.read_text(encoding="utf-8-sig")
    elif ending == "xlsx":
        cells = [cell for row in load_workbook(out).active.iter_rows() for cell in row]
        hostile = [cell for cell in cells if cell.value in ("=1+1", "'=1+1")]
        assert hostile
        assert all(cell.data_type == "s" for cell in hostile)
    else:
        kept = duckdb.sql(f"select count(*) from '{out}' where value = '=1+1'").fetchall()
        assert kept[0][0] >= 1


def test_export_names_the_nearest_table(braidlife, demo_store, tmp_path):
    done = braidlife("export", "rankin", "--out", tmp_path / "x.csv", "--store", demo_store)
    assert done.returncode == 2
    assert "Did you mean 'ranking'" in done.stderr
