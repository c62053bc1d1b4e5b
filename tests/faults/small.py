"""A small fleet with a little dirt, loaded in about a second, and what an edition of it holds."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import duckdb

from etl.build.published import PUBLISHED
from etl.load.publish import current_edition

SETTINGS = "n_draws = 20\n"
"""Few draws: these tests ask whether tables are the same, not whether they are good."""

FIRST = {
    "service_points.csv": "service_point,application_class,site,line\n"
    "A-1,loop,north,1\nA-2,loop,north,1\n=B,drum,south,2\nÅ 3,drum,south,2\n",
    "parts.csv": "part_number,construction,unit_price,lead_time_days\n00123,C-1,12.50,30\n"
    "00124,C-2,20.00,45\n",
    "installations.csv": "installed_on,service_point,hose_id,construction,part_number\n"
    "2020-01-01,A-1,007,C-1,00123\n2020-06-01,A-1,008,C-1,00123\n2021-02-01,A-1,009,C-2,00124\n"
    "2020-01-01,A-2,010,C-1,00123\n2020-03-01,=B,+11,C-2,00124\n2020-04-01,Å 3,012,C-2,00124\n"
    "2020-01-01,A-9,013,C-1,00123\n",
    "replacements.csv": "removed_on,service_point,hose_id,reason,mechanism,downtime_h,work_order\n"
    "2020-06-01,A-1,007,failed,vibration fatigue,3.5,=1+1\n"
    "2021-02-01,A-1,008,failed,corrosion,2,\"two\nlines\"\n2021-05-05,A-2,010,planned,,1,\n"
    "2021-07-01,=B,+11,failed,vibration fatigue,4,@here\n31/02/2021,Å 3,012,failed,,1,\n"
    "2020-06-01,A-1,007,failed,vibration fatigue,3.5,=1+1\n",
    "stock.csv": "part_number,as_of,on_hand,on_order\n00123,2021-08-01,2,0\n",
}
SECOND = {
    "installations_2.csv": "installed_on,service_point,hose_id,construction,part_number\n"
    "2021-05-05,A-2,014,C-2,00124\n2021-07-01,=B,015,C-1,00123\n",
    "replacements_2.csv": "removed_on,service_point,hose_id,reason,mechanism\n"
    "2021-09-09,A-2,014,failed,corrosion\n",
}


def write_logs(folder: Path, *batches: dict[str, str]) -> Path:
    """Write batches of logs into a folder, made when missing."""
    folder.mkdir(exist_ok=True)
    for name, text in (item for batch in batches for item in batch.items()):
        (folder / name).write_text(text, encoding="utf-8", newline="")
    return folder


def new_store(folder: Path) -> Path:
    """Return an empty store that builds fast."""
    folder.mkdir()
    (folder / "settings.toml").write_text(SETTINGS, encoding="utf-8")
    return folder


def tables(store: Path) -> dict[str, list[tuple[Any, ...]]]:
    """Return every row of every published table, without the number of the edition."""
    with duckdb.connect(str(current_edition(store)), read_only=True) as con:
        found = {name: con.execute(f'select * from "{name}"').fetchall()
                 for (name,) in con.execute("select table_name from duckdb_tables()").fetchall()}
    found["edition"] = [row[1:] for row in found["edition"]]
    return found


def loaded_files(store: Path) -> list[str]:
    """Return the names of a store's files and folders, but not of what only names a load."""
    return sorted(path.relative_to(store).as_posix() for path in store.rglob("*")
                  if path.name != "lock")


def same_rows(store: Path, other: Path) -> None:
    """Check that two stores publish the same, table by table, value by value."""
    mine, theirs = tables(store), tables(other)
    assert set(mine) == set(PUBLISHED) == set(theirs)
    for name, rows in mine.items():
        assert repr(rows) == repr(theirs[name]), name


def is_root() -> bool:
    """Tell whether this process may write where the rights of a file forbid it."""
    return os.geteuid() == 0
