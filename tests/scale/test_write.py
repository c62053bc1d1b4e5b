"""Partitions written by a load: listed, read again, replaced as a whole, in any kind of store."""

import contextlib
import json
import pickle
from urllib.parse import unquote

import duckdb
import pytest

from etl import refresh
from etl.errors import InputError
from etl.load.publish import current_edition
from etl.scale.atoms import summarise
from etl.scale.executors import Processes
from etl.scale.folder import Folder
from etl.scale.partitions import read_list, write_partitions
from etl.scale.pool import estimate, gather
from etl.settings import Settings
from tests.scale.shelf import HOME, Told

REMOTE = "memory://fleet"
"""A store that fsspec keeps in memory: it stands for all that fsspec knows."""
SHELF = "shelf://plants/fleet"
"""A store that worker processes reach as well."""
SITES = ("North/1", "Süd")


@pytest.fixture(scope="module")
def logs(tmp_path_factory):
    folder = tmp_path_factory.mktemp("logs")
    points, installations, removals = [], [], []
    for place in range(24):
        kind = "loop" if place % 3 else "dryer = 2"
        points.append(f"P{place},{kind},{SITES[place % 2] if place < 20 else ''}")
        for year in range(2016, 2024):
            installations.append(f"{year}-0{1 + place % 9}-01,P{place},straight")
            reason = "failed" if (place + year) % 3 else "planned"
            removals.append(f"{year + 1}-0{1 + place % 9}-01,P{place},{reason},"
                            f"{'vib_fatigue' if year % 2 else ''}")
    for name, head, rows in (
        ("service_points", "service_point,application_class,site", points),
        ("installations", "installed_on,service_point,construction", installations),
        ("replacements", "removed_on,service_point,reason,mechanism", removals),
    ):
        (folder / f"{name}.csv").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def loaded(logs, shelf, tmp_path_factory):
    """Store and folder of a load that wrote its partitions twice, there and to object stores."""
    store, folder = tmp_path_factory.mktemp("store"), tmp_path_factory.mktemp("fleet")
    (store / "settings.toml").write_text("n_draws = 20\n")

    def write(con, place, day, share):
        for where in (place, REMOTE, SHELF, place, SHELF):
            write_partitions(con, where, day, share)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(refresh, "write_partitions", write)
        refresh.load(logs, store, partitions=str(folder))
    return store, folder


def test_partitions_hold_what_the_edition_holds(loaded):
    store, folder = loaded
    listed = read_list(str(folder))
    assert sorted({part.site for part in listed.partitions}) == sorted([*SITES, "unnamed site"])
    with duckdb.connect(str(current_edition(store)), read_only=True) as edition:
        lives, places = edition.execute(
            "select (select count(*) from lives), (select count(*) from service_points)"
        ).fetchone()
        want = edition.execute(
            "select application_class, construction, mechanism, n_failures, shape, own_data_share "
            "from fits order by 1, 2, 3").df()
    assert sum(part.n_lives for part in listed.partitions) == lives
    assert sum(part.n_places for part in listed.partitions) == places
    cells = gather(atom for part in listed.partitions for atom in summarise(part))
    got = estimate(cells, Settings(n_draws=20)).fits.sort_values(
        ["application_class", "construction", "mechanism"], ignore_index=True)
    assert got["n_failures"].tolist() == want["n_failures"].tolist()
    assert got["shape"].astype(float).to_numpy() == pytest.approx(
        want["shape"].astype(float).to_numpy(), rel=1e-6, nan_ok=True)
    assert got["own_data_share"].to_numpy() == pytest.approx(
        want["own_data_share"].to_numpy(), rel=1e-6)


def test_clean_logs_can_be_read_by_anything_that_reads_parquet(loaded):
    _, folder = loaded
    rows = duckdb.execute(
        f"select site, application_class, count(*) from read_parquet("
        f"'{folder}/clean/replacements/*/*/*.parquet', hive_partitioning = true) group by all"
    ).fetchall()
    assert sum(row[2] for row in rows) == 24 * 8
    assert ("North/1", "dryer = 2") in {row[:2] for row in rows}


def test_writing_again_leaves_no_file_of_before(loaded):
    _, folder = loaded
    listed = {file for path in folder.glob("sites/*.json")
              for file in json.loads(path.read_text())["files"]}
    assert {path.name for path in folder.rglob("*.parquet")} == {
        file.rsplit("/", 1)[1] for file in listed}


def test_an_object_store_serves_as_well(loaded):
    _, folder = loaded
    near, far = read_list(str(folder)), read_list(REMOTE)
    assert far.partitions[0].folder == Folder(REMOTE)
    one, other = ([atom for part in listed.partitions for atom in summarise(part)]
                  for listed in (near, far))
    assert pickle.dumps(one) == pickle.dumps(other)


def test_an_address_of_this_machine_is_its_path(tmp_path):
    assert Folder.at(f"file://{tmp_path}/a%20b/") == Folder.at(str(tmp_path / "a b"))


@pytest.fixture(scope="module")
def shelf(tmp_path_factory):
    """Folder of the objects of a store that worker processes reach."""
    folder = tmp_path_factory.mktemp("shelf")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(HOME, str(folder))
        yield folder


def test_an_object_store_written_again_holds_what_its_lists_name(loaded, shelf):
    listed = {file for item in shelf.glob("*sites*.json")
              for file in json.loads(item.read_text())["files"]}
    assert {unquote(item.name) for item in shelf.glob("*.parquet")} == {
        f"{SHELF.removeprefix('shelf://')}/{file}" for file in listed}


def test_workers_read_an_object_store_and_give_the_bits_of_a_folder(loaded):
    near = [summarise(part) for part in read_list(str(loaded[1])).partitions]
    with contextlib.closing(Processes(2)) as two:
        far = list(Told(two).map(summarise, read_list(SHELF).partitions))
    assert [_bits(atom) for atoms in far for atom in atoms] == [
        _bits(atom) for atoms in near for atom in atoms]


def _bits(atom):
    """What must be the same of an atom wherever it was summed."""
    return (atom.site, atom.cell, atom.n_lives, atom.n_failures, atom.known,
            *(part.tobytes() for part in (atom.curve.s0, atom.curve.s1, atom.removal_curve.s0)))


def test_a_lost_object_is_named_by_its_partition(loaded, shelf):
    listed = read_list(SHELF)
    part = listed.partitions[-1]
    (item,) = [item for item in shelf.iterdir() if unquote(item.name).endswith(part.lives[0])]
    item.unlink()  # the last test that needs it
    with pytest.raises(InputError, match=f"{part.name}: its files cannot be read"):
        summarise(part)


def test_a_kind_of_store_that_nothing_reads_says_so():
    with pytest.raises(InputError, match="nowhere://: .*Install what reads this kind of store"):
        read_list("nowhere://bucket/fleet")
