"""Loads killed late: while the edition and the kept rows are written, about the switch, appending.

After each kill the store must be readable, its edition the old or the new one and whole; the next
load must leave nothing behind and give what a store gives that was never killed, and so must the
load after it, which builds on the rows that were kept.
"""

from __future__ import annotations

import functools
import random
import shutil
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from etl import run
from etl.load.base import ASIDE, FILE
from etl.load.publish import POINTER, current_number
from tests.bench.breaking import Outcome, in_child, is_whole, killed_after
from tests.faults.small import FIRST, SECOND, SETTINGS, new_store, tables, write_logs

ONE_PLACE = {
    "installations_2.csv": "installed_on,service_point,hose_id,construction,part_number\n"
    "2021-05-05,A-2,014,C-2,00124\n",
    "replacements_2.csv": SECOND["replacements_2.csv"],
}
"""Touches so few places that it is put beside kept rows."""
THIRD = {"installations_3.csv": "installed_on,service_point,hose_id,construction,part_number\n"
         "2021-09-09,A-2,016,C-1,00123\n"}
WHOLE = "checking and typing rows"
"""What a load says that builds everything again."""
KEEPING = f"{SETTINGS}rows_kept_from = 0\n"
NOT_KEEPING = f"{SETTINGS}rows_kept_from = 1000000000\n"


@dataclass(frozen=True)
class Scene:
    """A store before a load, and what never killed loads make of it."""

    name: str
    before: Path
    second: Path
    third: Path
    seconds: float
    """A load that nobody kills takes so long."""
    shown: tuple[str, str, str]
    """Every row before, after the second batch, and after the third."""
    files: tuple[set[str], set[str]]
    """What lies in the store after the second batch, and after the third."""


def killed_late(folder: Path, number: int, chance: random.Random) -> Outcome:
    """Kill loads at random moments after something late has begun; see the module."""
    found = Outcome()
    scenes = (_scene(folder, "keeping", NOT_KEEPING, SECOND),
              _scene(folder, "appending", KEEPING, ONE_PLACE))
    for at in range(number):
        scene = scenes[at % 2]
        store = Path(shutil.copytree(scene.before, folder / "store"))
        moments = _moments(store, scene, chance)
        name, since, seconds = moments[at // 2 % len(moments)]
        child = in_child(functools.partial(run.load, scene.second, store))
        is_killed = killed_after(child, seconds, since)
        found.tried += 1
        _judge(found, scene, store, f"{at} ({scene.name}, {name})", is_killed)
        shutil.rmtree(store)
    return found


def _judge(found: Outcome, scene: Scene, store: Path, what: str, is_killed: bool) -> None:
    """Check a store after a kill, and the two loads that follow."""
    number = current_number(store)
    found.check(is_whole(store), f"{what}: the store is not whole")
    found.check(number in (1, 2), f"{what}: edition {number}")
    found.check(repr(tables(store)) == scene.shown[number - 1], f"{what}: another edition")
    state = ("rows half kept" if (store / ASIDE).exists() else
             "edition half written" if list((store / "editions").glob("*.tmp")) else
             "switched" if number == 2 else "before the switch")
    found.seen[f"{scene.name}: {state if is_killed else 'ended before'}"] += 1
    for step, logs in enumerate((scene.second, scene.third)):
        said: list[str] = []
        run.load(logs, store, say=said.append)
        is_same = repr(tables(store)) == scene.shown[step + 1]
        found.check(is_same, f"{what}: load {step + 1} differs")
        left = _files(store) ^ scene.files[step]
        found.check(not left, f"{what}: after load {step + 1} there is, or is not, {sorted(left)}")
        found.seen["next loads that appended"] += WHOLE not in said


def _scene(folder: Path, name: str, settings: str, batch: dict[str, str]) -> Scene:
    """Make a store with the first batch, and load the others into a copy that nobody kills."""
    home = folder / name
    home.mkdir()
    before = new_store(home / "before")
    (before / "settings.toml").write_text(settings, encoding="utf-8")
    run.load(write_logs(home / "logs", FIRST), before)
    (before / "settings.toml").write_text(KEEPING, encoding="utf-8")
    second, third = write_logs(home / "more", batch), write_logs(home / "last", THIRD)
    calm = Path(shutil.copytree(before, home / "calm"))
    began, said = time.monotonic(), list[str]()
    run.load(second, calm, say=said.append)
    seconds = time.monotonic() - began
    assert (WHOLE in said) == (name == "keeping"), said
    shown, files = repr(tables(calm)), _files(calm)
    run.load(third, calm)
    return Scene(name, before, second, third, seconds,
                 (repr(tables(before)), shown, repr(tables(calm))), (files, _files(calm)))


def _files(store: Path) -> set[str]:
    """Return what lies in a store; editions count by their ending, for a kill costs a number."""
    return {path.relative_to(store).as_posix() for path in store.rglob("*")
            if path.is_file() and path.name != "lock" and path.suffix != ".duckdb"} | {
        "rows" for _ in store.glob(FILE)}


def _moments(store: Path, scene: Scene, chance: random.Random,
             ) -> list[tuple[str, Callable[[], bool], float]]:
    """Return moments to kill at: a name, what has to be seen first, and seconds after that."""
    pointer = store / POINTER
    began = time.monotonic()
    third = 2 * scene.seconds / 3
    moments: list[tuple[str, Callable[[], bool], float]] = [
        ("last third", lambda: time.monotonic() - began > third, chance.uniform(0, third / 2)),
        ("edition", lambda: bool(list(store.glob("editions/*.tmp"))), chance.uniform(0, 0.3)),
        ("switch", lambda: pointer.with_suffix(".tmp").exists() or current_number(store) == 2,
         chance.uniform(0, 0.004)),
        ("any time", lambda: True, chance.uniform(0, scene.seconds)),
    ]
    if scene.name == "keeping":
        moments.insert(2, ("rows", (store / ASIDE).exists, chance.uniform(0, 0.3)))
        moments.insert(3, ("rows switched", (store / FILE).exists, chance.uniform(0, 0.01)))
    return moments
