"""Load a real data set, with the mapping kept here, into a fresh database of lives."""

import shutil
from pathlib import Path

import pytest

from etl.load import archive, typing, warehouse
from etl.load.raw import load_raw

HERE = Path(__file__).resolve().parent


@pytest.fixture(scope="module")
def loaded(request, field_data, tmp_path_factory):
    """Connection with the layers up to lives of the data set that the module names."""
    data_set, files = request.module.DATA_SET, request.module.FILES
    folder = tmp_path_factory.mktemp(data_set)
    for name in files:
        shutil.copyfile(field_data / data_set / name, folder / name)
    shutil.copyfile(HERE / data_set / "columns.toml", folder / "columns.toml")
    store = tmp_path_factory.mktemp("store")
    archive.add(store, folder)
    con = warehouse.connect()
    as_of = typing.build_clean(con, load_raw(con, store), getattr(request.module, "AS_OF", None))
    typing.build_lives(con, as_of)
    yield con
    con.close()
