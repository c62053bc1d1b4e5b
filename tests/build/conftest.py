"""The published demo edition, to be read or to be spoiled."""

import shutil
from pathlib import Path

import duckdb
import pytest

from etl.load.publish import current_edition


@pytest.fixture(scope="session")
def edition_file(demo_store, tmp_path_factory):
    """A copy: pages of other tests hold the original open with a configuration of their own."""
    return Path(shutil.copy(current_edition(demo_store), tmp_path_factory.mktemp("edition")))


@pytest.fixture(scope="module")
def edition(edition_file):
    with duckdb.connect(str(edition_file), read_only=True) as con:
        yield con
