"""Make the logs of the invented demo fleet, the same bytes from the same seed."""

from __future__ import annotations

import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

if __spec__ is not None and not __spec__.parent:
    # Loaded by its path, as an installed program does: its siblings are then its submodules.
    __spec__.submodule_search_locations = [str(Path(__file__).parent)]
    __path__ = __spec__.submodule_search_locations
    __package__ = __name__

from . import files, registers
from .catalogue import constructions, parts
from .dirt import Spoiler
from .events import Recorder, Row
from .lives import World
from .places import make_places
from .truth import hoses, make_truth, to_toml

SEED = 20_261_055
"""The first of the seeds tried with which what is planted also shows in the last month."""
SCENARIO = Path(__file__).with_name("scenario.toml")


def read_scenario() -> dict[str, Any]:
    """Return the parameters of the invented fleet."""
    return tomllib.loads(SCENARIO.read_text(encoding="utf-8"))


def make_fleet(folder: Path, seed: int = SEED, scale: float = 1.0) -> dict[str, Any]:
    """Write the logs of the invented fleet into a folder.

    Parameters
    ----------
    folder : Path
        Made if need be; files of the same names are overwritten.
    seed : int
        Start of every random stream.
    scale : float
        Multiplies the number of machines, and so of service points; 1 gives about 1,200.

    Returns
    -------
    dict
        The truth: parameters, planted places, batch, trials, counts of planted rows by kind and
        file, and under ``hoses`` every simulated stay, one list a column.
    """
    folder.mkdir(parents=True, exist_ok=True)
    scenario = read_scenario()
    places = make_places(scenario, seed, scale)
    bought = parts(scenario, places, seed)
    stays = World(scenario, places, seed).run()
    recorder = Recorder(scenario, places, bought, seed)
    recorder.record(stays)
    planted: Counter[tuple[str, str]] = Counter()
    for site in scenario["sites"]:
        spoiler = Spoiler(scenario, site, seed, scale)
        installed = [row for row in recorder.installations if row["_site"] == site]
        removed = [row for row in recorder.replacements if row["_site"] == site]
        spoiler.spoil(installed, removed)
        planted += WRITERS[site](folder, installed, removed, spoiler)
    as_of = scenario["fleet"]["as_of"]
    _write(folder, "service_points.csv", registers.service_points(places, seed))
    _write(folder, "constructions.csv", constructions(scenario))
    _write(folder, "parts.csv", bought)
    _write(folder, "inspections.csv", recorder.inspections)
    _write(folder, "teardowns.csv", recorder.teardowns)
    _write(folder, "usage.tsv", registers.usage(scenario, places, seed), "\t")
    _write(folder, f"stock_{as_of}.csv", registers.stock(scenario, bought, stays, seed))
    _write(folder, "trials.csv", registers.trials(places))
    files.copy_mapping(folder)
    truth = make_truth(scenario, places, stays, planted, seed, scale)
    return {**truth, "hoses": hoses(places, stays)}


def write_truth(truth: dict[str, Any], path: Path) -> None:
    """Write the truth as TOML, without the single hoses; keep it out of the folder of logs."""
    path.write_text(to_toml(truth), encoding="utf-8", newline="\n")


def _write(folder: Path, name: str, rows: list[Row], delimiter: str = ",") -> None:
    files.write_table(folder / name, list(rows[0]), rows, delimiter)


def _count(name: str, *logs: list[Row]) -> Counter[tuple[str, str]]:
    return Counter((name, kind) for rows in logs for row in rows for kind in row["_kinds"])


def _write_log(folder: Path, log: str, name: str, rows: list[Row],
               more: tuple[str, ...] = ()) -> Counter[tuple[str, str]]:
    files.write_table(folder / name, [*more, *files.CORE[log]], rows)
    return _count(name, rows)


def _alderbeck(folder: Path, installed: list[Row], removed: list[Row],
               spoiler: Spoiler) -> Counter[tuple[str, str]]:
    """Write two exports that overlap by three months."""
    spoiler.conflicts(removed)
    planted: Counter[tuple[str, str]] = Counter()
    begins, ends, made = spoiler.overlap
    for log, rows in (("installations", installed), ("replacements", removed)):
        early = [row for row in rows if row["_on"] <= ends]
        late = [row for row in rows if row["_on"] >= begins]
        name = f"{log}_alderbeck_{spoiler.as_of}.csv"
        planted += _write_log(folder, log, f"{log}_alderbeck_{made}.csv", early)
        planted += _write_log(folder, log, name, late)
        planted[name, "repeat_of_earlier_file"] = len(early) + len(late) - len(rows)
    planted[f"replacements_alderbeck_{spoiler.as_of}.csv", "missing_removal"] = spoiler.n_lost
    return planted


def _corriemoor(folder: Path, installed: list[Row], removed: list[Row],
                spoiler: Spoiler) -> Counter[tuple[str, str]]:
    """Write a first export with record numbers, and a week later corrections and new rows."""
    for letter, rows in (("F", installed), ("R", removed)):
        numbers: dict[tuple[str, ...], str] = {}
        for row in rows:
            key = (row["work_order"], row["_place"], row["_hose"])
            row["row_id"] = numbers.setdefault(key, f"{letter}{len(numbers) + 1:05d}")
    planted = _write_log(folder, "installations", f"installations_corriemoor_{spoiler.as_of}.csv",
                         installed, ("row_id",))
    later = spoiler.late_export(removed)
    first_made = spoiler.as_of.replace(day=spoiler.as_of.day - 7)
    for made, rows, more in ((first_made, removed, ("row_id",)),
                             (spoiler.as_of, later, ("row_id", "deleted"))):
        planted += _write_log(folder, "replacements", f"replacements_corriemoor_{made}.csv",
                              rows, more)
    planted[f"replacements_corriemoor_{first_made}.csv", "missing_removal"] = spoiler.n_lost
    return planted


def _estwater(folder: Path, installed: list[Row], removed: list[Row],
              spoiler: Spoiler) -> Counter[tuple[str, str]]:
    name = f"estwater_hose_orders_{spoiler.as_of}.csv"
    files.write_orders(folder / name, installed, removed)
    return _count(name, installed, removed) + Counter({(name, "missing_removal"): spoiler.n_lost})


def _haverlund(folder: Path, installed: list[Row], removed: list[Row],
               spoiler: Spoiler) -> Counter[tuple[str, str]]:
    name = f"haverlund_hose_book_{spoiler.as_of}.xlsx"
    files.write_book(folder / name, installed, removed)
    return _count(name, installed, removed) + Counter({(name, "missing_removal"): spoiler.n_lost,
                                                       (name, "total_row"): 1})


WRITERS = {"Corriemoor": _corriemoor, "Alderbeck": _alderbeck, "Estwater": _estwater,
           "Haverlund": _haverlund}
