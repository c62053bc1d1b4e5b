"""The dirt of real logs, planted row by row and counted.

A row carries the kinds of dirt planted in it under ``_kinds``. A row gets at most one kind that
makes it unusable, so that each planted row has one reason; the problem pump line is left clean.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import numpy as np

from .places import Scenario, class_rng

Row = dict[str, Any]
SPARED = "HD-2 "
NO_OVERLAP = [dt.date.max, dt.date.min, dt.date.min]
LATE_EXPORT_DAYS = 7
"""Corriemoor's second export: its last week, and corrections of the first."""


def _ambiguous(row: Row, on: str, _: np.random.Generator) -> None:
    row[on] = row[on].strftime("%d/%m/%Y")


def _future(row: Row, on: str, _: np.random.Generator) -> None:
    row[on] = row[on].replace(year=row[on].year + 40, day=min(row[on].day, 28))


def _before_installation(row: Row, on: str, rng: np.random.Generator) -> None:
    row[on] = row["_installed"] - dt.timedelta(days=int(rng.integers(20, 200)))
    row["last_seen_good_on"] = None      # or the row would be impossible in two ways


def _renamed(row: Row, _: str, rng: np.random.Generator) -> None:
    forms = ("old {}", "{}/1", "{} (moved)")
    row["service_point"] = forms[int(rng.integers(0, len(forms)))].format(row["service_point"])


def _negative(row: Row, _: str, __: np.random.Generator) -> None:
    row["labour_cost"] = -row["labour_cost"]


def _seen_too_early(row: Row, _: str, rng: np.random.Generator) -> None:
    row["last_seen_good_on"] = row["_installed"] - dt.timedelta(days=int(rng.integers(10, 90)))


def _set(name: str, value: Any) -> Callable[[Row, str, np.random.Generator], None]:
    def change(row: Row, on: str, _: np.random.Generator) -> None:
        row[on if name == "date" else name] = value
        if name == "date" and "last_seen_good_on" in row:
            row["last_seen_good_on"] = None
    return change


SPOIL: dict[str, tuple[Callable[[Row, str, np.random.Generator], None], Callable[[Row], bool]]] = {
    "missing_date": (_set("date", None), lambda row: True),
    "ambiguous_date": (_ambiguous, lambda row: _date(row).day <= 12 != _date(row).month),
    "future_date": (_future, lambda row: True),
    "date_before_1950": (_set("date", dt.date(1900, 1, 1)), lambda row: True),
    "removal_before_installation": (
        _before_installation, lambda row: _is_fitted(row)),
    "unknown_service_point": (_renamed, lambda row: True),
    "negative_cost": (_negative, lambda row: bool(row.get("labour_cost"))),
    "seen_good_before_installation": (
        _seen_too_early, lambda row: bool(row.get("last_seen_good_on")) and _is_fitted(row)),
    "unknown_word": (_set("reason", "see note"), lambda row: "reason" in row),
    "number_not_readable": (_set("downtime_h", "half a shift"), lambda row: "reason" in row),
    "serial_date": (lambda row, on, _: row.update(_serial=True), lambda row: "reason" in row),
    "error_cell": (_set("part_cost", "#N/A"), lambda row: "reason" in row),
}
"""Kind -> how a row is spoilt, and which rows can be."""
NEEDS_INSTALLATION = ("removal_before_installation", "seen_good_before_installation")
"""Kinds that only show beside good rows of the same place, which then gets no other dirt."""
IN_BOTH_LOGS = ("missing_date", "future_date", "unknown_service_point")


def _is_fitted(row: Row) -> bool:
    """Say whether the installation of a removed hose, then new, is recorded and unspoilt."""
    fitted = row.get("_fitted")
    return fitted is not None and row["_is_new"] and not fitted["_kinds"]


def _date(row: Row) -> dt.date:
    value = row["removed_on"] if "removed_on" in row else row["installed_on"]
    assert isinstance(value, dt.date)
    return value


class Spoiler:
    """Plants the dirt of one site in its installations and replacements."""

    def __init__(self, scenario: Scenario, site: str, seed: int, scale: float) -> None:
        """Take the site's rates and counts."""
        number = list(scenario["sites"]).index(site)
        self.rng = class_rng(seed, 8, number)
        self.rates = scenario["dirt"]["rates"][site]
        factor = max(1, round(scale))
        self.counts = {kind: n * factor for kind, n in scenario["dirt"]["counts"][site].items()}
        self.overlap: list[dt.date] = scenario["sites"][site].get("overlap", NO_OVERLAP)
        self.touched: set[str] = set()
        self.kept: set[str] = set()
        self.as_of: dt.date = scenario["fleet"]["as_of"]

    def spoil(self, installed: list[Row], removed: list[Row]) -> None:
        """Change the rows in place; rows go missing and come twice."""
        fitted = {(row["_place"], row["hose_id"], row["installed_on"]): row for row in installed}
        for row in removed:
            row["_fitted"] = fitted.get((row["_place"], row["hose_id"], row["_installed"]))
        self._lose(removed)
        for kind in SPOIL:
            n_rows = self.counts.get(kind, 0)
            n_in = n_rows // 2 if kind in IN_BOTH_LOGS else 0
            self._plant(kind, installed, "installed_on", n_in)
            self._plant(kind, removed, "removed_on", n_rows - n_in)
        self._blur(removed, "unknown_reason", self._forget_reason)
        for rows in (installed, removed):
            self._blur(rows, "no_tag", lambda row: row.update(hose_id=None))
        self._blur(removed, "changed_tag", self._change_tag)
        for rows in (installed, removed):
            self._blur(rows, "outer_blanks",
                       lambda row: row.update(service_point=f" {row['service_point']}  "))
            self._repeat(rows)

    def _lose(self, removed: list[Row]) -> None:
        keep = [row["_place"].startswith(SPARED)
                or self.rng.random() >= self.rates["missing_removal"] for row in removed]
        self.n_lost = keep.count(False)
        self.touched |= {row["_place"] for row, is_kept in zip(removed, keep, strict=True)
                         if not is_kept}
        removed[:] = [row for row, is_kept in zip(removed, keep, strict=True) if is_kept]

    def _clean(self, rows: list[Row]) -> list[Row]:
        first, last, _ = self.overlap
        return [row for row in rows if not row["_kinds"] and row["_place"] not in self.kept
                and not row["_place"].startswith(SPARED) and not first <= row["_on"] <= last]

    def _plant(self, kind: str, rows: list[Row], on: str, n_rows: int) -> None:
        change, fits = SPOIL[kind]
        able = [row for row in self._clean(rows) if fits(row)] if n_rows else []
        if kind in NEEDS_INSTALLATION:
            able = [row for row in able if row["_place"] not in self.touched]
        chosen = self.rng.choice(len(able), min(n_rows, len(able)), replace=False) if able else ()
        for number in sorted(int(item) for item in chosen):
            change(able[number], on, self.rng)
            able[number]["_kinds"] += (kind,)
            (self.kept if kind in NEEDS_INSTALLATION else self.touched).add(able[number]["_place"])

    def _blur(self, rows: list[Row], kind: str, change: Callable[[Row], object]) -> None:
        for row in self._clean(rows):
            if self.rng.random() < self.rates[kind] and (kind != "changed_tag" or row["hose_id"]):
                change(row)
                row["_kinds"] += (kind,)

    def _forget_reason(self, row: Row) -> None:
        row.update(reason="unknown", mechanism=None, last_seen_good_on=None)

    def _change_tag(self, row: Row) -> None:
        """Misread the tag: an O for a nought, or two digits swapped."""
        tag = row["hose_id"]
        is_swap = self.rng.random() < 0.5 and tag[-1] != tag[-2]
        row["hose_id"] = tag[:-2] + tag[-1] + tag[-2] if is_swap else tag.replace("0", "O", 1)
        if row["hose_id"] == tag:
            row["hose_id"] = tag + "A"

    def _repeat(self, rows: list[Row]) -> None:
        """Enter some rows twice, the second time a few rows further down."""
        able = self._clean(rows)
        n_rows = round(self.rates["exact_repeat"] * len(rows))
        chosen = self.rng.choice(len(able), n_rows, replace=False).tolist()
        later = self.rng.integers(1, 6, n_rows).tolist()
        _insert(rows, [(able[number], {**able[number], "_kinds": ("exact_repeat",)}, offset)
                       for number, offset in zip(chosen, later, strict=True)])

    def conflicts(self, removed: list[Row]) -> None:
        """Enter some rows twice with different costs: nobody can say which one is right."""
        able = [row for row in self._clean(removed) if row["labour_cost"] and row["hose_id"]]
        chosen = self.rng.choice(len(able), self.counts.get("conflict", 0), replace=False)
        twice = []
        for number in chosen.tolist():
            able[number]["_kinds"] += ("conflict",)
            other = round(able[number]["labour_cost"] * 1.4, 2)
            twice.append((able[number], {**able[number], "labour_cost": other}, 1))
        _insert(removed, twice)

    def late_export(self, removed: list[Row]) -> list[Row]:
        """Take back what a second export brings, and make the first one wrong where it corrects.

        Returns the rows of the second export: the last week, corrections and deletions. The
        first export keeps the earlier, wrong version of each corrected row.
        """
        first_of_week = self.as_of - dt.timedelta(days=LATE_EXPORT_DAYS - 1)
        week = [row for row in removed if isinstance(row["removed_on"], dt.date)
                and first_of_week <= row["removed_on"] <= self.as_of]
        taken = {id(row) for row in week}
        removed[:] = [row for row in removed if id(row) not in taken]
        able = [row for row in self._clean(removed) if row["hose_id"] and row["labour_cost"]
                and row["removed_on"] > row["_installed"] + dt.timedelta(days=30)]
        n_right, n_gone = self.counts["corrected"], self.counts["deleted"]
        chosen = sorted(int(item) for item in
                        self.rng.choice(len(able), n_right + n_gone, replace=False))
        right = [{**able[number], "_kinds": ("correction",)} for number in chosen[:n_right]]
        for order, number in enumerate(chosen[:n_right]):
            self._make_wrong(able[number], order)
        false = [self._invented(able[number]) for number in chosen[n_right:]]
        _insert(removed, [(able[number], row, 1)
                          for number, row in zip(chosen[n_right:], false, strict=True)])
        gone = [{**row, "deleted": "yes", "_kinds": ("deletion",)} for row in false]
        return week + right + gone

    def _make_wrong(self, row: Row, order: int) -> None:
        row["_kinds"] += ("corrected",)
        if order % 3 == 0:
            row["removed_on"] -= dt.timedelta(days=int(self.rng.integers(1, 20)))
            row["last_seen_good_on"] = None
        elif order % 3 == 1:
            row.update(reason="unknown", mechanism=None, last_seen_good_on=None)
        else:
            row["labour_cost"] = round(row["labour_cost"] * 10.0, 2)

    def _invented(self, like: Row) -> Row:
        """Return a removal that never was."""
        earlier = dt.timedelta(days=int(self.rng.integers(2, 20)))
        return {**like, "row_id": f"{like['row_id']}-B", "_kinds": ("deleted",),
                "removed_on": like["removed_on"] - earlier, "last_seen_good_on": None}


def _insert(rows: list[Row], additions: list[tuple[Row, Row, int]]) -> None:
    """Insert rows so many places below others: (row there, row to insert, offset)."""
    number_of = {id(row): number for number, row in enumerate(rows)}
    placed = [(number_of[id(there)] + offset, row) for there, row, offset in additions]
    for number, row in sorted(placed, key=lambda item: -item[0]):
        rows.insert(number, row)
