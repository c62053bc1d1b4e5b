"""An earlier month looked at again: a store beside the store, with the edition of that month."""

from __future__ import annotations

import calendar
import datetime as dt
import re
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb

from etl.errors import InputError
from etl.load.publish import POINTER, current_edition, editions

MONTH = re.compile(r"(\d{4})-(0[1-9]|1[0-2])")
ARCHIVE = ("files", "mappings", "entries")
"""Folders whose files an edition is made from."""
KEPT = ("loads.jsonl", "settings.toml")


@contextmanager
def store_of_month(
    store: Path, month: str, build: Callable[[Path, dt.date], object]
) -> Iterator[Path]:
    """Give a passing store whose current edition has its data date in a month.

    Parameters
    ----------
    store : Path
    month : str
        YYYY-MM.
    build : callable
        Makes an edition of a store's logs for a data date.

    Yields
    ------
    Path
        Links to an edition that the store keeps, where there is one; else holds one made of the
        same logs with the last day of the month as data date. Gone afterwards.

    Raises
    ------
    InputError
        It is no month, or the logs do not reach so far.
    StoreError
        Nothing was published yet.
    """
    if MONTH.fullmatch(month) is None:
        raise InputError(f"--month: {month!r} is not a month like 2026-10.")
    year, number = (int(part) for part in month.split("-"))
    last = dt.date(year, number, calendar.monthrange(year, number)[1])
    days = {path: _data_date(path) for _, path in sorted(editions(store).items())}
    until = days.get(current_edition(store))
    kept = [path for path, day in days.items() if day and (day.year, day.month) == (year, number)]
    with tempfile.TemporaryDirectory(prefix="braidlife-") as folder:
        beside = Path(folder)
        if kept:
            (beside / "editions").mkdir()
            for path in days:
                if path.name <= kept[-1].name:  # earlier ones, for what moved since
                    (beside / "editions" / path.name).symlink_to(path.resolve())
            (beside / POINTER).write_text(kept[-1].name, encoding="ascii")
        elif until is None or last > until:
            raise InputError(f"--month: the logs reach {until}, not the end of {month}.")
        else:
            _link_archive(store, beside)
            build(beside, last)
        yield beside


def _link_archive(store: Path, beside: Path) -> None:
    """Let a new store read the files of another one; each by itself, so that none is cleared."""
    for name in ARCHIVE:
        for path in sorted((store / name).rglob("*")) if (store / name).is_dir() else []:
            if path.is_file() and not path.name.endswith(".tmp"):
                link = beside / path.relative_to(store)
                link.parent.mkdir(parents=True, exist_ok=True)
                link.symlink_to(path.resolve())
    for name in KEPT:
        if (store / name).is_file():
            shutil.copy(store / name, beside / name)


def _data_date(path: Path) -> dt.date | None:
    """Return the data date of an edition; None where it cannot be read."""
    try:
        with duckdb.connect(str(path), read_only=True) as con:
            day: dt.date = con.execute("select as_of from edition").fetchall()[0][0]
    except (duckdb.Error, IndexError):
        return None
    return day
