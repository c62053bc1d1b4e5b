"""A small store loaded once, copies of it, and a process that runs loads to be killed."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from etl import run
from tests.faults.lived import enter
from tests.faults.small import FIRST, SECOND, new_store, write_logs

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="session")
def first_store(tmp_path_factory):
    """Store with the first batch loaded; read it, never write to it."""
    folder = tmp_path_factory.mktemp("first")
    store = new_store(folder / "store")
    run.load(write_logs(folder / "logs", FIRST), store)
    return store


@pytest.fixture(scope="session")
def both_store(tmp_path_factory):
    """Store with the first and then the second batch loaded by loads that nothing disturbed."""
    folder = tmp_path_factory.mktemp("both")
    store = new_store(folder / "store")
    run.load(write_logs(folder / "logs", FIRST), store)
    run.load(write_logs(folder / "more", SECOND), store)
    return store


@pytest.fixture
def store(first_store, tmp_path):
    """Copy of the first store that a test may harm."""
    return Path(shutil.copytree(first_store, tmp_path / "store"))


@pytest.fixture
def lived_in(store):
    """Store with a load, entries, a photograph, a setting and a file for its owner alone."""
    enter(store, 1)
    (store / "accounts.json").write_text("{}")
    (store / "accounts.json").chmod(0o600)
    (store / "track").mkdir()
    (store / "track" / "2021-07-31-sign.sign").write_text("abc empty\n")
    (store / "work.spill").mkdir()
    (store / "editions" / "edition-000009.tmp").write_text("half")
    return store


@pytest.fixture
def more(tmp_path):
    """Folder with the second batch of logs."""
    return write_logs(tmp_path / "more", SECOND)


@pytest.fixture(scope="session")
def ordered():
    """Function that runs one load in a process of its own and returns what became of it."""
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.faults.forker"], cwd=ROOT, text=True,
        stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"},
    )

    def order(store, logs, **more):
        print(json.dumps({"store": str(store), "logs": str(logs), **more}), file=process.stdin,
              flush=True)
        return json.loads(process.stdout.readline())

    with process:
        yield order
        process.stdin.close()
