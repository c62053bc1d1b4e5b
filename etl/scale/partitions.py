"""Partitions of a fleet: written from a load, listed, and handed out as tasks."""

from __future__ import annotations

import datetime as dt
import json
import uuid
from dataclasses import dataclass
from typing import Any

import duckdb
import numpy as np
from numpy.typing import NDArray

from etl import __version__
from etl.errors import InputError, StoreError
from etl.life.reporting_delay import IN_TIME
from etl.load.columns import LOGS
from etl.load.store_faults import plain
from etl.parsed import from_json
from etl.scale.folder import LISTS, Folder, list_name

Written = dict[tuple[str, str], tuple[list[str], int]]
"""Files and rows by site and application class."""

FORMAT = 1
NO_SITE = "unnamed site"
"""Site of service points that the register gives none."""

AT = """
select service_point, coalesce(nullif(trim(site), ''), $no_site) as site, application_class
from clean.service_points
"""

LIVES = f"""
select l.service_point, l.hose_id, l.construction, l.part_number, l.mechanism, l.kind, l.is_open,
    l.is_fitted, l.entry_age_days, l.age_low_days, l.age_high_days, l.installed_on, l.removed_on,
    l.removal_reason, p.site, p.application_class
from fit.counted_lives as l join ({AT}) as p using (service_point)
order by p.site, p.application_class, l.service_point, l.life_id
"""

PLACES = f"""
select f.service_point, f.construction, f.part_number, f.age_days, r.cost_per_failure,
    p.site, p.application_class
from fit.places as f join ({AT}) as p using (service_point)
left join results.ranking as r using (service_point)
order by p.site, p.application_class, f.service_point
"""


@dataclass(frozen=True)
class Partition:
    """The lives and places of one application class at one site.

    Attributes
    ----------
    folder : Folder
    site, application_class : str
    lives, places : tuple of str
        Files, relative to the folder.
    n_lives, n_places : int
        Rows that they hold.
    on_record : tuple of float
        Share of a month's removals on record at the site 0, 1, ... months later.
    """

    folder: Folder
    site: str
    application_class: str
    lives: tuple[str, ...]
    n_lives: int
    places: tuple[str, ...]
    n_places: int
    on_record: tuple[float, ...] = (1.0,)

    @property
    def share(self) -> NDArray[np.float64]:
        """Share on record by month, as `etl.life.reporting_delay.recorded_share` gives it."""
        return np.asarray(self.on_record, np.float64)

    @property
    def name(self) -> str:
        """Name as messages give it."""
        return f"partition {self.site} / {self.application_class}"

    def open(self) -> duckdb.DuckDBPyConnection:
        """Open a database with the views ``lives`` and ``places`` of this partition.

        Raises
        ------
        InputError
            A file is missing or damaged, or rows are not as many as listed.
        """
        con = self.folder.connect()
        try:
            for view, files, wanted in (("lives", self.lives, self.n_lives),
                                        ("places", self.places, self.n_places)):
                paths = ", ".join(_quoted(self.folder.path(name)) for name in files)
                con.execute(f"create view {view} as select * exclude (site, application_class) "
                            f"from read_parquet([{paths}], hive_partitioning = true, "
                            "hive_types_autocast = false)")
                (found,), = con.execute(f"select count(*) from {view}").fetchall()
                if found != wanted:
                    raise InputError(f"{self.name}: {wanted:,} {view} are listed, {found:,} "
                                     f"found. {AGAIN}")
        except (duckdb.Error, OSError) as exc:
            con.close()
            raise self.fault(exc) from exc
        return con

    def fault(self, exc: Exception) -> InputError:
        """Return the error of a partition that cannot be read."""
        return InputError(f"{self.name}: its files cannot be read ({plain(exc)}). {AGAIN}")


AGAIN = "Write this site again with `braidlife load --partitions`."


@dataclass(frozen=True)
class FleetList:
    """The partitions of a fleet, sorted by class and site.

    Attributes
    ----------
    as_of : date
    currency : str
    partitions : tuple of Partition
    """

    as_of: dt.date
    currency: str
    partitions: tuple[Partition, ...]


def write_partitions(
    con: duckdb.DuckDBPyConnection, place: str, as_of: dt.date,
    share: NDArray[np.float64] = IN_TIME,
) -> int:
    """Write the clean logs, lives and places of a load as partitions, and list them.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds every layer up to ``results``.
    place : str
        Path or address of the folder.
    as_of : date
    share : ndarray, shape (k,)
        Of a month's removals on record 0, 1, ... months later.

    Returns
    -------
    int
        Partitions that the fleet can use.

    Raises
    ------
    StoreError
        The folder cannot be written. What was listed before still holds.

    Notes
    -----
    Files of a new name are written first; replacing the list of a site makes them count, and
    only then the files listed before are deleted. A load that dies changes nothing.
    """
    folder = Folder.at(place)
    writing = f"{as_of:%Y%m%d}-{uuid.uuid4().hex[:12]}"
    try:
        folder.prepare(con)
        written = {"lives": _copy(con, folder, "lives", LIVES, writing),
                   "places": _copy(con, folder, "places", PLACES, writing)}
        logs = [_copy(con, folder, f"clean/{log}", _log(con, log), writing) for log in _logs(con)]
        lists = _lists(con, written, logs, as_of, share)
        for site, listed in lists.items():
            before = folder.read(list_name(site))
            folder.write(list_name(site), json.dumps(listed, indent=1, sort_keys=True))
            folder.remove(sorted(set(_files(before)) - set(listed["files"])))
    except (duckdb.Error, OSError) as exc:
        raise StoreError(f"the partitions could not be written ({plain(exc)}). Those listed before "
                         "still hold; make room or choose another folder, and load again.") from exc
    return sum(len(listed["partitions"]) for listed in lists.values())


def read_list(place: str) -> FleetList:
    """Return the partitions of all sites in a folder.

    Raises
    ------
    InputError
        No site is listed, a list is damaged, or sites differ in data date or currency.
    """
    folder = Folder.at(place)
    names = folder.sites()
    if not names:
        raise InputError("no partitions are listed in this folder. Write some with "
                         "`braidlife load PATH --partitions FOLDER`.")
    lists = [_parsed(name, folder.read(name)) for name in names]
    for key, words in (("as_of", "data date"), ("currency", "currency")):
        first, others = lists[0], [item for item in lists if item[key] != lists[0][key]]
        if others:
            raise InputError(
                f"{words}: must be one for all sites, found {first[key]} for {first['site']} and "
                f"{others[0][key]} for {others[0]['site']} ({len(others)} of {len(lists)} sites "
                "differ). Load them again, with --as-of or the mapping's currency alike.")
    found = [
        Partition(folder, item["site"], part["application_class"], tuple(part["lives"]),
                  part["n_lives"], tuple(part["places"]), part["n_places"],
                  tuple(item.get("on_record", [1.0])))  # lists of before say nothing of it
        for item in lists for part in item["partitions"]
    ]
    found.sort(key=lambda part: (part.application_class, part.site))
    return FleetList(dt.date.fromisoformat(lists[0]["as_of"]), lists[0]["currency"], tuple(found))


def _parsed(name: str, text: str | None) -> dict[str, Any]:
    """Read the list of a site."""
    try:
        found: dict[str, Any] = from_json(text or "")
        if found["format"] == FORMAT:
            return found
        reason = f"layout {found['format']}, known is {FORMAT}"
    except (ValueError, KeyError, TypeError):
        reason = "it is no list of partitions"
    raise InputError(f"{LISTS}/{name}: {reason}. {AGAIN}")


def _logs(con: duckdb.DuckDBPyConnection) -> list[str]:
    """Return the logs whose rows belong to places, and so to partitions."""
    rows = con.execute("select table_name from duckdb_columns() where schema_name = 'clean' "
                       "and column_name = 'service_point' order by 1").fetchall()
    return [log for log in LOGS if (log,) in rows]


def _log(con: duckdb.DuckDBPyConnection, log: str) -> str:
    """Return the query for the rows of a log, with their site and class."""
    drop = "exclude (site, application_class)" if log == "service_points" else ""
    return (f"select l.* {drop}, p.site, p.application_class from clean.{log} as l "
            f"join ({AT}) as p using (service_point) "
            "order by p.site, p.application_class, load_id, entry_no, source_row")


def _copy(
    con: duckdb.DuckDBPyConnection, folder: Folder, name: str, query: str, writing: str
) -> Written:
    """Write one table; return files and rows by site and class."""
    text = query.replace("$no_site", _quoted(NO_SITE))
    done = con.execute(
        f"copy ({text}) to {_quoted(folder.path(name))} (format parquet, compression zstd, "
        f"partition_by (site, application_class), filename_pattern '{writing}-{{i}}', "
        "overwrite_or_ignore, return_stats)").fetchall()
    found: Written = {}
    for path, n_rows, *_, keys, _ in done:
        files, n = found.get((keys["site"], keys["application_class"]), ([], 0))
        relative = path.removeprefix(folder.root).lstrip("/")
        found[keys["site"], keys["application_class"]] = ([*files, relative], n + n_rows)
    return {key: (sorted(files), n) for key, (files, n) in found.items()}


def _lists(
    con: duckdb.DuckDBPyConnection, written: dict[str, Written], logs: list[Written],
    as_of: dt.date, share: NDArray[np.float64],
) -> dict[str, dict[str, Any]]:
    """Return the list of each site."""
    (currency,), = con.execute("select currency from results.edition").fetchall()
    none: tuple[list[str], int] = ([], 0)
    lists: dict[str, dict[str, Any]] = {}
    for table in (*written.values(), *logs):
        for (site, _), (files, _) in table.items():
            mine = lists.setdefault(site, {
                "format": FORMAT, "site": site, "as_of": as_of.isoformat(), "currency": currency,
                "software": __version__, "on_record": share.tolist(), "partitions": [],
                "files": []})
            mine["files"] = sorted({*mine["files"], *files})
    for key in sorted(written["lives"]):  # a class without lives has no partition to fit
        lives, n_lives = written["lives"][key]
        places, n_places = written["places"].get(key, none)
        lists[key[0]]["partitions"].append({
            "application_class": key[1], "lives": lives, "n_lives": n_lives, "places": places,
            "n_places": n_places})
    return lists


def _files(text: str | None) -> list[str]:
    """Return the files that a list names; none where there was no list that can be read."""
    try:
        return list(from_json(text)["files"]) if text else []
    except (ValueError, KeyError, TypeError):
        return []


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"
