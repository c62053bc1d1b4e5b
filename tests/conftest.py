"""Shared by all tests: the demo fleet loaded once, and the folder of real field data."""

import os
import shutil
from pathlib import Path

import pytest
from filelock import FileLock

from etl import run


def pytest_addoption(parser):
    parser.addoption(
        "--field-data", default=os.environ.get("BRAIDLIFE_FIELD_DATA"),
        help="folder of real field data for the tests marked field",
    )


@pytest.fixture(scope="session")
def field_data(request):
    """Folder of real field data; the test is skipped, saying so, without it."""
    given = request.config.getoption("--field-data")
    if not given:
        pytest.skip("no field data: give --field-data FOLDER or set BRAIDLIFE_FIELD_DATA")
    folder = Path(given)
    if not folder.is_dir():
        pytest.fail(f"--field-data: {folder.name} is not a folder")
    return folder


@pytest.fixture(scope="session")
def demo_store(tmp_path_factory):
    """Store with the demo fleet loaded and published, the same for all workers of one test run.

    Read it, never write to it.
    """
    ours = tmp_path_factory.getbasetemp()
    shared = ours.parent if "PYTEST_XDIST_WORKER" in os.environ else ours
    store = shared / "demo" / "store"
    with FileLock(shared / "demo.lock"):
        if not (store / "current").exists():  # written last
            run.demo(store)
    return store


@pytest.fixture
def demo_store_copy(demo_store, tmp_path):
    """Copy of the demo store that a test may change."""
    return Path(shutil.copytree(demo_store, tmp_path / "store"))
