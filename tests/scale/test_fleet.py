"""A fleet from partitions: the same as in one piece, and the same wherever it is worked out."""

import json
import pickle
import shutil
from dataclasses import replace

import duckdb
import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose
from pandas.testing import assert_frame_equal

from etl.build.lives import Lives, curves_of
from etl.build.statistics import pooling_data
from etl.build.strata import failures_of, strata_of
from etl.errors import InputError
from etl.life.fit import fit_strata
from etl.life.pooling.pool import pool_strata
from etl.scale.atoms import summarise
from etl.scale.executors import Here
from etl.scale.folder import Folder, list_name
from etl.scale.partitions import read_list
from etl.scale.pool import gather
from etl.scale.work import fleet_results
from etl.scale.worst import Worst
from tests.scale.conftest import WORLD
from tests.scale.world import MECHANISMS, frames, write_partition


def same(one, other):
    """Equal to the last bit."""
    assert one.law.draws.log_life.tobytes() == other.law.draws.log_life.tobytes()
    assert one.law.draws.log_shape.tobytes() == other.law.draws.log_shape.tobytes()
    for name, frame in one.tables.items():
        assert_frame_equal(frame, other.tables[name], check_exact=True)


def in_one_piece():
    """The same lives as one set of arrays, as a load in one process has them."""
    pieces = [frames(WORLD, site, kind)[0].assign(kind=kind, site=site)
              for site in range(WORLD.n_sites) for kind in range(WORLD.n_classes)]
    rows = pd.concat(pieces, ignore_index=True)
    n = WORLD.n_constructions
    return rows, Lives(
        (rows["kind"] * n + rows["construction"]).to_numpy(np.int64),
        rows["entry"].to_numpy(), rows["low"].to_numpy(),
        np.where(rows["mechanism"] == -1, np.inf, rows["high"]),
        rows["mechanism"].to_numpy(np.int64), np.zeros(len(rows), np.int64), np.ones(len(rows)),
        np.repeat(np.arange(WORLD.n_classes), n), np.tile(np.arange(n), WORLD.n_classes),
        ("class 00", "class 01"), tuple(f"build {code:02d}" for code in range(n)), MECHANISMS,
        ("fleet",))


def test_curves_of_partitions_add_up_to_those_of_all_lives(expected):
    _, lives = in_one_piece()
    whole, added = curves_of(lives), expected.law.cells.curves
    for name in ("s0", "s1", "s2", "centre"):
        assert_allclose(getattr(added, name), getattr(whole, name), rtol=1e-11, err_msg=name)


def test_pooling_rests_on_the_same_data_as_in_one_piece(expected, settings):
    _, lives = in_one_piece()
    strata = strata_of(lives)
    data = pooling_data(lives, strata, failures_of(lives, strata))
    draws = pool_strata(data, n_draws=settings.n_draws, seed=settings.seed)
    # The share is worked out before any random number: it tells of the data alone.
    assert_allclose(expected.law.draws.own_data_share, draws.own_data_share, rtol=1e-7)
    spread = draws.log_life.std(axis=0)
    away = np.abs(expected.law.draws.log_life.mean(axis=0) - draws.log_life.mean(axis=0))
    assert np.all(away < 1.5 * spread)  # chance of few draws


def test_fits_of_sums_are_the_fits_of_the_lives(expected):
    rows, _ = in_one_piece()
    fits = expected.tables["fits"].set_index(["application_class", "construction", "mechanism"])
    for (kind, build), mine in rows.groupby(["kind", "construction"]):
        for code, name in enumerate(MECHANISMS):
            own = mine["mechanism"] == code
            row = fits.loc[(f"class {kind:02d}", f"build {build:02d}", name)]
            assert row["n_failures"] == own.sum()
            if (mine["low"] < mine["high"])[own].any():
                assert pd.isna(row["shape"])  # sums do not hold ages between two looks
                continue
            fit = fit_strata(np.zeros(len(mine), int), mine["entry"], mine["low"],
                             np.where(own, mine["high"], np.inf), np.ones(len(mine)), 1)
            assert row["shape"] == pytest.approx(fit.shape[0], rel=1e-6)
            assert row["characteristic_life_days"] == pytest.approx(
                fit.characteristic_life[0], rel=1e-6)


def test_results_do_not_depend_on_files_or_the_order_of_partitions(expected, parts, settings,
                                                                   tmp_path):
    root = tmp_path / "parts"
    folder, con = Folder.at(str(root)), duckdb.connect()
    for site in (1, 0):
        name = f"site {site:03d}"
        listed = [write_partition(con, folder, name, f"class {kind:02d}",
                                  *(frame.sample(frac=1.0, random_state=kind)
                                    for frame in frames(WORLD, site, kind)), n_files=3)
                  for kind in (1, 0)]
        kept = json.loads(Folder.at(str(parts)).read(list_name(name)))
        folder.write(list_name(name), json.dumps(kept | {"partitions": listed}))
    same(fleet_results(read_list(str(root)), Backwards(), settings), expected)


class Backwards(Here):
    """Works from the last task to the first, and gives the results in order."""

    def map(self, function, tasks):
        return iter([function(task) for task in reversed(tasks)][::-1])


def test_atoms_are_the_same_in_any_company(parts):
    listed = read_list(str(parts))
    atoms = [atom for part in listed.partitions for atom in summarise(part)]
    one, other = gather(atoms), gather(reversed(atoms))
    assert one.curves.s0.tobytes() == other.curves.s0.tobytes()
    assert one.lives.low.tobytes() == other.lives.low.tobytes()
    assert one.totals.equals(other.totals)


@pytest.mark.parametrize("harm", ["gone", "damaged", "shorter"])
def test_a_partition_that_is_not_as_listed_is_named(parts, tmp_path, settings, harm):
    root = shutil.copytree(parts, tmp_path / "parts")
    (file,) = (root / "lives" / "site=site 001" / "application_class=class 00").glob("*.parquet")
    if harm == "gone":
        file.unlink()
    elif harm == "damaged":
        file.write_bytes(file.read_bytes()[:-100])
    else:
        duckdb.execute(f"copy (from '{file}' limit 5) to '{file}.new' (format parquet)")
        (file.parent / f"{file.name}.new").replace(file)
    with pytest.raises(InputError, match="partition site 001 / class 00: .*Write this site again"):
        fleet_results(read_list(str(root)), Here(), settings)


def test_sites_of_different_days_are_refused(parts, tmp_path):
    root = shutil.copytree(parts, tmp_path / "parts")
    path = root / "sites" / list_name("site 001")
    path.write_text(path.read_text().replace("2026-10-31", "2026-09-30"))
    with pytest.raises(InputError, match="data date: must be one for all sites, found 2026-10-31 "
                                         "for site 000 and 2026-09-30 for site 001"):
        read_list(str(root))


def test_a_folder_without_partitions_says_how_to_write_some(tmp_path):
    with pytest.raises(InputError, match="no partitions are listed"):
        read_list(str(tmp_path))


def test_the_same_tag_at_two_sites_is_two_places(expected):
    worst = expected.tables["worst_places"]
    assert not worst.duplicated(["site", "service_point"]).any()
    assert worst.duplicated("service_point").any()


def test_pruning_parts_first_leaves_the_list_of_the_whole():
    rng = np.random.default_rng(3)
    cost = rng.integers(0, 6, (300, 8)).astype(np.float32)  # many are equal
    name = np.array([f"s\x1f{number:03d}" for number in range(300)], object)
    flat = np.zeros(300)
    whole = Worst(name, name, name, flat, flat, flat, flat, flat, cost, cost)
    parts = [whole.only(np.arange(start, 300, 7)) for start in rng.permutation(7)]
    left = parts[0].pruned(20)
    for part in parts[1:]:
        left = left.beside(part.pruned(20)).pruned(20)
    assert left.name.tolist() == whole.pruned(20).name.tolist()


def test_less_than_two_kilobytes_of_an_atom_travel_beside_its_unknowns(parts):
    for part in read_list(str(parts)).partitions:
        for atom in summarise(part):
            plain = replace(atom, masked=(), between=(), removal_curve=atom.curve)
            assert len(pickle.dumps(plain)) < 2_000
