"""Stores that may not be written, or not even be read, by the one who runs the command."""

import os
import shutil
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from tests.faults.small import is_root, same_rows

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def plainly():
    """Function that runs Python code as one whom file rights bind; gives its lines of output."""
    before = ["unshare", "-U"] if is_root() else []
    if before and (not shutil.which("unshare") or subprocess.run(
            [*before, "true"], capture_output=True, check=False).returncode):
        pytest.skip("file rights do not bind root, and unshare is not permitted here")

    def run_it(code, *args):
        done = subprocess.run(
            [*before, sys.executable, "-c", textwrap.dedent(code), *map(str, args)],
            capture_output=True, text=True, check=False, cwd=ROOT,
            env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"})
        assert "Traceback" not in done.stderr, done.stderr
        return done

    return run_it


COMMAND = "from etl.cli import main; main()"
PAGES = """
    import sys
    from pathlib import Path
    from tests.dashboard.page_reader import Reader
    reader = Reader(Path(sys.argv[1]))
    print(reader.client.get("/readyz").status_code)
    for address in ("/", "/places", "/places/A-1", "/lives", "/data-health"):
        print(reader.text(address)[:60].replace(chr(10), " "))
    print(reader.client.get("/download/lives.csv").status_code)
"""


def set_rights(store, folder_rights, file_rights):
    for path in [*store.rglob("*"), store]:
        path.chmod(folder_rights if path.is_dir() else file_rights)


@pytest.fixture
def read_only(store):
    set_rights(store, 0o555, 0o444)
    yield store
    set_rights(store, 0o755, 0o644)


def test_loading_into_a_store_that_may_not_be_written(plainly, read_only, more, first_store):
    done = plainly(COMMAND, "load", more, "--store", read_only)
    assert done.returncode == 2
    assert done.stderr.splitlines()[-1] == (
        "braidlife: the store could not be opened for loading: Permission denied. The published "
        "edition is untouched. Give this user the right to write to the store, or choose another "
        "with --store.")
    same_rows(read_only, first_store)


def test_a_store_that_cannot_be_made(plainly, read_only, more):
    done = plainly(COMMAND, "load", more, "--store", read_only / "inner")
    assert done.returncode == 2
    assert "could not be opened for loading: Permission denied" in done.stderr


def test_a_file_in_the_place_of_the_store(plainly, store, more):
    done = plainly(COMMAND, "load", more, "--store", store / "loads.jsonl")
    assert done.returncode == 2
    assert "the store could not be opened for loading: File exists" in done.stderr


def test_a_store_on_read_only_ground_is_served_and_exported(plainly, read_only, tmp_path):
    ready, *pages, download = plainly(PAGES, read_only).stdout.splitlines()
    assert (ready, download) == ("200", "200")
    assert not [text for text in pages if "nothing to show" in text or "not be shown" in text]
    done = plainly(COMMAND, "export", "lives", "--store", read_only, "--out", tmp_path / "x.csv")
    assert done.returncode == 0, done.stderr


def test_a_store_that_may_not_be_read_says_so_on_every_page(plainly, store):
    set_rights(store, 0o755, 0o000)
    ready, *pages, download = plainly(PAGES, store).stdout.splitlines()
    set_rights(store, 0o755, 0o644)
    assert (ready, download) == ("503", "503")
    assert all("There is nothing to show yet. The store cannot be read" in text for text in pages)


def test_a_log_that_may_not_be_read_is_named_and_the_others_load(plainly, store, more):
    (more / "replacements_2.csv").chmod(0)
    done = plainly(COMMAND, "load", more, "--store", store)
    assert done.returncode == 1, done.stderr
    assert "Not loaded: replacements_2.csv: not readable (Permission denied)." in done.stdout
    assert "2 files read" in done.stdout
    assert "7 lives" in done.stdout or "8 lives" in done.stdout


def test_an_export_to_where_nothing_may_be_written(plainly, read_only):
    done = plainly(COMMAND, "export", "lives", "--store", read_only, "--out", read_only / "x.csv")
    assert done.returncode == 2
    assert "x.csv: could not be written (Permission denied)" in done.stderr
