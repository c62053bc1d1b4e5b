"""A small store loaded once, and copies of it that tests may write into."""

import shutil
from pathlib import Path

import pytest

from etl import run
from tests.faults.small import FIRST, new_store, write_logs


@pytest.fixture(scope="session")
def loaded(tmp_path_factory):
    """Store with a small fleet loaded; read it, never write to it."""
    folder = tmp_path_factory.mktemp("entered")
    store = new_store(folder / "store")
    run.load(write_logs(folder / "logs", FIRST), store)
    return store


@pytest.fixture
def store(loaded, tmp_path):
    """Copy of the small store that a test may write into."""
    return Path(shutil.copytree(loaded, tmp_path / "store"))
