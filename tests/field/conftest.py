"""Load a real data set, with the mapping kept here, into a fresh database of lives."""

import shutil
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest

from etl.life.fit import fit_strata
from etl.load import archive, typing, warehouse
from etl.load.raw import load_raw

HERE = Path(__file__).resolve().parent


@contextmanager
def layers(folder, store, as_of=None):
    """Load the files of a folder; yield the connection with the layers up to lives."""
    archive.add(store, folder)
    with warehouse.connect() as con:
        typing.build_lives(con, typing.build_clean(con, load_raw(con, store), as_of))
        yield con


def gathered(folder, source, files, kept):
    """Fill a folder with files of a data set, and with the mapping and registers kept for it."""
    for name in files:
        shutil.copyfile(source / name, folder / name)
    for own in (HERE / kept).iterdir():
        if own.is_file():
            shutil.copyfile(own, folder / own.name)
    return folder


@pytest.fixture(scope="module")
def loaded(request, field_data, tmp_path_factory):
    """Connection with the layers up to lives of the data set that the module names."""
    module = request.module
    folder = gathered(tmp_path_factory.mktemp(module.DATA_SET), field_data / module.DATA_SET,
                      module.FILES, module.DATA_SET)
    with layers(folder, tmp_path_factory.mktemp("store"), getattr(module, "AS_OF", None)) as con:
        yield con


def fitted(con, where="true", *, is_late=True):
    """Fit the fitted lives that meet a condition as one stratum."""
    rows = con.execute(
        "select entry_age_days as entry, age_low_days as low, coalesce(age_high_days,"
        f" 'infinity'::double) as high from lives.lives where is_fitted and {where}").fetchnumpy()
    entry = rows["entry"] if is_late else 0.0 * rows["entry"]
    return fit_strata(np.zeros(entry.size, int), entry, rows["low"], rows["high"], 1.0, 1)
