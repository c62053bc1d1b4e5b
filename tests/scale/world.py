"""An invented fleet written as partitions, one by one: any size in the memory of one of them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd

from etl.scale.folder import Folder, list_name
from etl.scale.partitions import FORMAT

AS_OF = "2026-10-31"
MECHANISMS = ("bend_fatigue", "corr_external", "vib_fatigue", "weld_fitting")
SHAPES = np.array([2.0, 2.6, 1.4, 0.9])
REMOVAL = 1.8, 2_600.0
"""Shape and characteristic life, days, of coming out unfailed."""


@dataclass(frozen=True)
class World:
    """Sizes of an invented fleet; partitions are sites times classes."""

    n_sites: int
    n_classes: int
    n_constructions: int
    places_a_partition: int
    lives_a_place: int = 20
    concentration: float = 5.0
    seed: int = 7

    @property
    def n_lives(self) -> int:
        """Lives made; a few in a hundred of them fall away before records begin."""
        return self.n_sites * self.n_classes * self.places_a_partition * self.lives_a_place


def write_world(world: World, root: Path) -> None:
    """Write the partitions of a fleet; sites that are listed already are left as they are."""
    folder = Folder.at(str(root))
    con = duckdb.connect(config={"threads": 1})
    for site in range(world.n_sites):
        name = f"site {site:03d}"
        if folder.read(list_name(name)) is not None:
            continue
        parts = [write_partition(con, folder, name, f"class {kind:02d}", *frames(world, site, kind))
                 for kind in range(world.n_classes)]
        folder.write(list_name(name), json.dumps({
            "format": FORMAT, "site": name, "as_of": AS_OF, "currency": "GBP", "software": "test",
            "partitions": parts, "files": [file for part in parts
                                           for file in part["lives"] + part["places"]]}))
    con.close()


def write_partition(
    con: duckdb.DuckDBPyConnection, folder: Folder, site: str, kind: str, lives: pd.DataFrame,
    places: pd.DataFrame, n_files: int = 1,
) -> dict[str, object]:
    """Write the files of one partition and return its entry in the list."""
    entry: dict[str, object] = {"application_class": kind, "n_lives": len(lives),
                                "n_places": len(places)}
    for table, frame in (("lives", lives), ("places", places)):
        where = Path(folder.path(table)) / f"site={site}" / f"application_class={kind}"
        where.mkdir(parents=True, exist_ok=True)
        entry[table] = []
        for part in range(n_files):
            path = where / f"w-{n_files}-{part}.parquet"
            con.register("frame", frame.iloc[part::n_files])
            text = LIVES if table == "lives" else PLACES
            con.execute(f"copy ({text}) to '{path}' (format parquet, compression zstd)")
            entry[table].append(str(path.relative_to(folder.root)))
    return entry


LIVES = """
select printf('P%07d', place) as service_point, printf('build %02d', construction) as construction,
    case mechanism when -1 then null when -2 then 'unknown' when 0 then 'bend_fatigue'
        when 1 then 'corr_external' when 2 then 'vib_fatigue' else 'weld_fitting' end as mechanism,
    case when mechanism = -1 then 'suspended' when low < high then 'interval' else 'failed' end
        as kind,
    is_open, true as is_fitted, entry::double as entry_age_days, low::double as age_low_days,
    case when mechanism = -1 then null else high::double end as age_high_days
from frame
"""
PLACES = """
select printf('P%07d', place) as service_point, printf('build %02d', construction) as construction,
    age::double as age_days, price as cost_per_failure
from frame
"""


def frames(world: World, site: int, kind: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Make the lives and places of one partition, from random numbers of its own."""
    rng = np.random.default_rng([world.seed, site, kind])
    n_places, n = world.places_a_partition, world.places_a_partition * world.lives_a_place
    build = rng.integers(world.n_constructions, size=n_places)
    z = rng.gamma(world.concentration, 1.0 / world.concentration, n_places)
    place = np.repeat(np.arange(n_places), world.lives_a_place)
    first = kind * n_places  # tags are one place's within a site
    level = 7.4 + 0.25 * np.sin(kind * 1.7) + 0.2 * np.cos(build * 2.3)
    best, mechanism = np.full(n, np.inf), np.full(n, -1)
    for code, shape in enumerate(SHAPES):
        scale = np.exp(level + 0.5 + 0.3 * code)[place]
        age = scale * (rng.standard_exponential(n) / z[place]) ** (1.0 / shape)
        mechanism = np.where(age < best, code, mechanism)
        best = np.minimum(best, age)
    out = REMOVAL[1] * rng.standard_exponential(n) ** (1.0 / REMOVAL[0])
    is_open = np.arange(n) % world.lives_a_place == world.lives_a_place - 1
    now = rng.uniform(1.0, 1_500.0, n)
    end = np.where(is_open, np.minimum(now, np.minimum(best, out)), np.minimum(best, out))
    is_failed = (best <= end) & ~is_open
    low = np.maximum(np.ceil(end), 1.0)
    entry = np.where(rng.random(n) < 0.03, np.floor(rng.uniform(0.0, 1_000.0, n)), 0.0)
    mechanism = np.where(is_failed, np.where(rng.random(n) < 0.01, -2, mechanism), -1)
    is_between = is_failed & (rng.random(n) < 0.003)
    high = low.copy()
    low = np.where(is_between, np.maximum(low - 90.0, 0.0), low)
    seen = low > entry
    lives = pd.DataFrame({
        "place": first + place, "construction": build[place], "mechanism": mechanism,
        "is_open": is_open, "entry": entry, "low": low, "high": high})[seen]
    places = pd.DataFrame({
        "place": first + np.arange(n_places), "construction": build, "age": low[is_open],
        "price": np.where(rng.random(n_places) < 0.9, np.round(rng.gamma(4.0, 500.0, n_places)),
                          np.nan)})
    return lives.reset_index(drop=True), places
