"""A small invented fleet whose logs come month by month, for tests of the track record."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np

from etl.load import archive

FIRST_DAY = dt.date(2021, 1, 1)
SETTINGS = "n_draws = 20\ntrack_draws = 10\ntrack_months = 3\n"


def events(n_places: int = 60, days: int = 1600, seed: int = 1) -> list[tuple[dt.date, str, str]]:
    """Return (day, place, hose) of each failure; a new hose goes in on the same day."""
    rng = np.random.default_rng(seed)
    found = []
    for number in range(n_places):
        day = float(rng.uniform(0, 60))
        life = 300.0 if number % 2 else 500.0
        for hose in range(1000):
            day += max(2.0, life * rng.weibull(1.8))
            if day >= days:
                break
            found.append((FIRST_DAY + dt.timedelta(days=int(day)), f"P-{number:02d}", f"{hose}"))
    return sorted(found)


def logs(folder: Path, name: str, since: dt.date | None, until: dt.date,
         left_out: int = 0, n_places: int = 60,
         rows: list[tuple[dt.date, str, str]] | None = None) -> Path:
    """Write installations and replacements after a day up to another; return the folder.

    Parameters
    ----------
    since : date or None
        None writes the registers and the first hoses as well.
    left_out : int
        The last so many failures are not entered yet.
    rows : list, optional
        Failures to be entered, in place of all those between the days.
    """
    folder.mkdir(exist_ok=True)
    if rows is None:
        rows = [row for row in events(n_places) if (since or FIRST_DAY) < row[0] <= until]
        rows = rows[:len(rows) - left_out]
    installed, removed = [], []
    if since is None:
        (folder / "service_points.csv").write_text(
            "service_point,application_class,site,line\n" + "".join(
                f"P-{n:02d},{'loop' if n % 2 else 'drum'},north,L{n % 3}\n"
                for n in range(n_places)), encoding="utf-8")
        installed = [f"{FIRST_DAY},P-{n:02d},P-{n:02d}/first,C-1" for n in range(n_places)]
    for day, place, hose in rows:
        out = f"{place}/{int(hose) - 1}" if int(hose) else f"{place}/first"
        removed.append(f"{day},{place},{out},failed,vibration fatigue,100")
        installed.append(f"{day},{place},{place}/{hose},C-1")
    (folder / f"installations_{name}.csv").write_text(
        "\n".join(["installed_on,service_point,hose_id,construction", *installed]) + "\n",
        encoding="utf-8")
    (folder / f"replacements_{name}.csv").write_text(
        "\n".join(["removed_on,service_point,hose_id,reason,mechanism,part_cost", *removed])
        + "\n", encoding="utf-8")
    return folder


def new_store(folder: Path) -> Path:
    """Return an empty store that builds fast."""
    folder.mkdir()
    (folder / "settings.toml").write_text(SETTINGS, encoding="utf-8")
    return folder


def arrive(store: Path, folder: Path, on: dt.date) -> None:
    """Put logs into the archive of a store as if they had been loaded on a day."""
    archive.add(store, folder, loaded_on=on)
