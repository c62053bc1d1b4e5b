"""A small invented fleet as partitions, and its results as worked out in one process."""

import pytest

from etl.scale.executors import Here
from etl.scale.partitions import read_list
from etl.scale.work import fleet_results
from etl.settings import Settings
from tests.scale.world import World, write_world

WORLD = World(n_sites=2, n_classes=2, n_constructions=3, places_a_partition=40)


@pytest.fixture(scope="session")
def settings():
    return Settings(n_draws=20)


@pytest.fixture(scope="session")
def parts(tmp_path_factory):
    """Folder of partitions; read it, never write to it."""
    root = tmp_path_factory.mktemp("parts")
    write_world(WORLD, root)
    return root


@pytest.fixture(scope="session")
def expected(parts, settings):
    return fleet_results(read_list(str(parts)), Here(), settings)
