"""Invented logs that grow: a whole history, and what comes to it later, as untidy as one likes."""

from __future__ import annotations

import csv
import datetime as dt
import random
from pathlib import Path

START = dt.date(2020, 1, 1)
N_PLACES = 60
COLUMNS = {
    "service_points": ("service_point", "application_class", "records_from", "retired_on"),
    "constructions": ("construction", "dn", "working_pressure_bar"),
    "parts": ("part_number", "construction", "unit_price"),
    "installations": ("installed_on", "service_point", "hose_id", "part_number", "construction",
                      "age_at_installation", "row_id", "deleted"),
    "replacements": ("removed_on", "service_point", "reason", "hose_id", "last_seen_good_on",
                     "mechanism", "part_cost", "row_id", "deleted"),
    "inspections": ("inspected_on", "service_point", "condition", "row_id", "deleted"),
    "teardowns": ("examined_on", "service_point", "hose_id", "removed_on", "finding", "value",
                  "row_id", "deleted"),
    "stock": ("part_number", "as_of", "on_hand"),
    "trials": ("trial", "service_point", "arm", "construction", "started_on"),
}
Row = dict[str, object]


class Fleet:
    """Draws rows; the same seed draws the same ones."""

    def __init__(self, seed: int) -> None:
        self.draw = random.Random(seed)
        self.earlier: list[tuple[str, Row]] = []

    def some(self, share: float, value: object) -> object:
        """Return the value or, mostly, an empty cell."""
        return value if self.draw.random() < share else ""

    def day(self, first: int, last: int) -> str:
        """Return a day, now and then one that cannot be read or lies far ahead."""
        found = START + dt.timedelta(days=self.draw.randint(first, last))
        return "soon" if self.draw.random() < 0.02 else found.isoformat()

    def place(self, among: int = N_PLACES) -> str:
        """Return a place, now and then one that no register knows."""
        return "P-999" if self.draw.random() < 0.02 else f"P-{self.draw.randrange(among):03}"

    def tag(self, place: str) -> object:
        """Return a tag: most are seen at one place only, a few wander."""
        wanders = self.draw.random() < 0.012
        return self.some(0.7, f"H{self.draw.randrange(9)}" if wanders
                         else f"{place}-{self.draw.randrange(5)}")

    def register(self) -> dict[str, list[Row]]:
        """Return the registers."""
        places: list[Row] = [{
            "service_point": f"P-{n:03}", "application_class": self.draw.choice(["pump", "loader"]),
            "records_from": self.some(0.2, self.day(0, 50)),
            "retired_on": self.some(0.1, self.day(150, 400))} for n in range(N_PLACES)]
        return {
            "service_points": places,
            "constructions": [{"construction": "C1", "dn": 25, "working_pressure_bar": 40}],
            "parts": [{"part_number": f"PN{n}", "construction": f"C{n % 3}", "unit_price": 10 + n}
                      for n in range(4)],
        }

    def rows(self, log: str, first: int, last: int, among: int = N_PLACES) -> Row:
        """Return a new row of a log of events."""
        deleted = self.some(0.03, "yes")
        number = self.some(0.15, f"W{self.draw.randrange(2000)}")
        place = self.place(among)
        if log == "installations":
            return {"installed_on": self.day(first, last), "service_point": place,
                    "hose_id": self.tag(place),
                    "part_number": self.some(0.5, f"PN{self.draw.randrange(6)}"),
                    "construction": self.some(0.5, f"C{self.draw.randrange(3)}"),
                    "age_at_installation": self.some(0.05, self.draw.randrange(90)),
                    "row_id": number, "deleted": deleted}
        if log == "replacements":
            return {"removed_on": self.day(first, last), "service_point": place,
                    "reason": self.draw.choice(["failed", "failed", "planned", "found_failed",
                                                "relocated", "unknown", "faild", "bent"]),
                    "hose_id": self.tag(place),
                    "last_seen_good_on": self.some(0.1, self.day(first, last)),
                    "mechanism": self.some(0.3, "fatigue_vibration"),
                    "part_cost": self.some(0.5, self.draw.choice(["12.50", "a lot", "99"])),
                    "row_id": number, "deleted": deleted}
        if log == "inspections":
            return {"inspected_on": self.day(first, last), "service_point": place,
                    "condition": self.draw.choice(["good", "good", "worn", "fine"]),
                    "row_id": number, "deleted": deleted}
        if log == "teardowns":
            is_placed = self.draw.random() < 0.6
            return {"examined_on": self.day(first, last), "service_point": place * is_placed,
                    "hose_id": self.tag(place) if is_placed else f"{place}-1",
                    "removed_on": self.some(0.5, self.day(first, last)), "finding": "mechanism",
                    "value": self.draw.choice(["fatigue_vibration", "corrosion", "odd"]),
                    "row_id": "", "deleted": ""}
        if log == "stock":
            return {"part_number": f"PN{self.draw.randrange(5)}", "as_of": self.day(first, last),
                    "on_hand": self.draw.randrange(9)}
        return {"trial": "T1", "service_point": place, "arm": self.draw.choice("AB"),
                "construction": "C1", "started_on": self.day(first, last)}

    def period(self, sizes: dict[str, int], first: int, last: int, among: int = N_PLACES,
               again: float = 0.1) -> dict[str, list[Row]]:
        """Return the rows of a period, some of which say again or correct what was said."""
        found: dict[str, list[Row]] = {}
        for log, size in sizes.items():
            told = [row for name, row in self.earlier if name == log]
            rows = [self.rows(log, first, last, among) for _ in range(size)]
            for n, row in enumerate(rows):
                if told and self.draw.random() < again:
                    rows[n] = {**self.draw.choice(told), **(
                        {"reason": "planned"} if "reason" in row and self.draw.random() < 0.5
                        else {})}
            self.earlier += [(log, row) for row in rows]
            found[log] = rows
        return found


def write(folder: Path, logs: dict[str, list[Row]], ending: str) -> Path:
    """Write logs as files of one export."""
    folder.mkdir(parents=True, exist_ok=True)
    for log, rows in logs.items():
        with (folder / f"{log}_{ending}.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, COLUMNS[log])
            writer.writeheader()
            writer.writerows(rows)
    return folder
