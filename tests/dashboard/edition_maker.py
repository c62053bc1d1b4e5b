"""Write an edition of an invented fleet into a store, so that pages can be tried alone.

States: ``full`` (sixty places), ``empty`` (no row but the edition's own), ``hostile`` (names
and notes that hold markup, SQL, paths, formulas, very long words).
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Literal

import duckdb
import numpy as np
import pandas as pd

from etl.paths import resource
from tests.dashboard import (
    edition_fleet,
    edition_lives,
    edition_plan,
    edition_spares,
    edition_tables,
    edition_teardown,
    edition_track,
    edition_trials,
    edition_vibration,
)
from tests.dashboard.edition_fleet import AS_OF, CURRENCY, Row
from tests.dashboard.edition_schema import SCHEMA

MADE_BY_SQL = ("70_names", "71_place_list", "72_place_totals", "73_place_choices")
"""Tables that are only other tables in another shape."""
State = Literal["full", "empty", "hostile"]
HOSTILE = [
    "<script>alert(1)</script>",
    "'; drop table lives; --",
    "../../secret/name",
    "=1+1",
    "@SUM(A1)",
    "100% \"quoted\" & <b>bold</b>",
    "a/b?c=d&e=f#g",
    "W" * 180,
    "[link](javascript:alert(1))",
    "line\nbreak\ttab",
    "шланг 软管 \u202eright to left",
    "{{ 7 * 7 }} ${7*7}",
]
TEXTS = ("reason", "next_step_reason", "detail", "note", "message", "value", "medium", "site")


def tables(state: State) -> dict[str, list[Row]]:
    """Return the rows of every table for a state."""
    if state == "empty":
        return {}
    rng = np.random.default_rng(20261031)
    places = edition_fleet.places()
    if state == "hostile":
        for place, name in zip(places, HOSTILE, strict=False):
            place |= {"service_point": name, "medium": name, "line": name}
    lives = edition_fleet.stays(places, rng)
    edition_fleet.fill_places(places, lives)
    ranking = edition_fleet.ranking(places, lives)
    out = {"service_points": places, "lives": lives, "ranking": ranking,
           "log_rows": edition_tables.log_rows(lives), "spares": edition_tables.spares(),
           "cost_curve": edition_tables.cost_curve(ranking)}
    out |= edition_tables.fits(lives) | edition_tables.months(lives, places)
    out |= edition_lives.by_clocks(out)
    out |= edition_lives.recurrence() | edition_spares.add_to(out["spares"])
    out |= edition_lives.of_groups(places, out)
    out["place_survival"] = edition_lives.place_survival(places, ranking)
    out |= edition_plan.plan(places, out["fits"])
    out |= edition_teardown.teardowns(lives, places)
    out |= edition_track.track(places)
    out |= edition_vibration.vibration(places)
    out["life_comparisons"] = edition_lives.comparisons(out["fits"])
    out |= edition_trials.trials(places) | edition_tables.health(places, lives)
    if state == "hostile":
        _spoil(out)
    return out


def _spoil(out: dict[str, list[Row]]) -> None:
    """Put hostile text into every free-text column of every table."""
    for rows in out.values():
        for number, row in enumerate(rows):
            for column in TEXTS:
                if isinstance(row.get(column), str):
                    row[column] = HOSTILE[number % len(HOSTILE)]


def statement(name: str) -> str:
    """Return what makes a table of an edition from others of it, for tables without layers."""
    text = (resource("sql") / "results" / f"{name}.sql").read_text(encoding="utf-8")
    return text.replace("results.", "")


def make_edition(store: Path, state: State = "full", number: int = 1) -> Path:
    """Write one edition and point the store at it; return its file."""
    filled = tables(state)
    path = store / "editions" / f"edition-{number:06d}.duckdb"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.unlink(missing_ok=True)
    lives = filled.get("lives", [])
    filled["edition"] = [{
        "edition": number, "as_of": AS_OF, "currency": CURRENCY, "software_version": "0.0.0",
        "n_service_points": len(filled.get("service_points", [])),
        "n_in_service": sum(life["is_open"] for life in lives), "n_lives": len(lives),
        "n_failures": sum(life["kind"] != "suspended" for life in lives),
        "n_refused": len(filled.get("refused", [])), "n_excluded": 2 if lives else 0,
        "first_installed_on": min((x["installed_on"] for x in lives), default=None),
        "confidence": 0.9, "late_failures": 4.2 if lives else 0.0, "late_failures_lower": 1.0,
        "late_failures_upper": 8.0, "on_record_in_month": 0.82,
        "months_until_on_record": 2 if lives else 0}]
    with duckdb.connect(str(path)) as con:
        con.execute(SCHEMA + edition_trials.SCHEMA + edition_vibration.SCHEMA)
        for name, rows in filled.items():
            if rows:
                frame = pd.DataFrame(rows)
                frame = frame.astype(object).where(frame.notna(), None)
                con.register("frame", frame)
                con.execute(f"insert into {name} by name select * from frame")
                con.unregister("frame")
        for name in MADE_BY_SQL:
            con.execute(statement(name))
    (store / "current").write_text(path.name + "\n", encoding="ascii")
    return path


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Write a synthetic edition into a store.")
    parser.add_argument("store", type=Path)
    parser.add_argument("state", choices=["full", "empty", "hostile"], nargs="?", default="full")
    options = parser.parse_args()
    print(make_edition(options.store, options.state))
