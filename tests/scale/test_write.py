"""Partitions written by a load: listed, read again, replaced as a whole, in any kind of store."""

import json
import pickle

import duckdb
import pytest

from etl import run
from etl.load.publish import current_edition
from etl.scale.atoms import summarise
from etl.scale.folder import Folder
from etl.scale.partitions import read_list, write_partitions
from etl.scale.pool import estimate, gather
from etl.settings import Settings

REMOTE = "memory://fleet"
"""A store that fsspec keeps in memory: it stands for all that fsspec knows."""
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
def loaded(logs, tmp_path_factory):
    """Store and folder of a load that wrote its partitions twice, and once to an object store."""
    store, folder = tmp_path_factory.mktemp("store"), tmp_path_factory.mktemp("fleet")
    (store / "settings.toml").write_text("n_draws = 20\n")

    def write(con, place, day):
        for where in (place, REMOTE, place):
            write_partitions(con, where, day)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(run, "write_partitions", write)
        run.load(logs, store, partitions=str(folder))
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
