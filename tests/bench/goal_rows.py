"""One line of the table of goals."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

SHOWN = Path(__file__).resolve().parents[2] / "dashboard" / "goals.csv"
"""What the guide shows of the goals."""
HEAD = ("goal", "what", "figure", "wanted", "word", "run")


@dataclass(frozen=True)
class Goal:
    """A figure and the range wanted of it.

    Attributes
    ----------
    what : str
    figure : float
    at_most, at_least : float or None
        None on both sides: a figure without a goal.
    """

    what: str
    figure: float
    at_most: float | None = None
    at_least: float | None = None

    @property
    def is_met(self) -> bool | None:
        """Whether the figure lies in the range; None without a goal, NaN never does."""
        if self.at_most is None and self.at_least is None:
            return None
        low = float("-inf") if self.at_least is None else self.at_least
        high = float("inf") if self.at_most is None else self.at_most
        return low <= self.figure <= high

    @property
    def wanted(self) -> str:
        """The range in words."""
        if self.at_most is not None and self.at_least is not None:
            return f"{self.at_least:g} to {self.at_most:g}"
        if self.at_most is not None:
            return f"<= {self.at_most:g}"
        return "" if self.at_least is None else f">= {self.at_least:g}"

    @property
    def word(self) -> str:
        """Whether the goal is met, in a word."""
        return {None: "-", True: "met", False: "NOT MET"}[self.is_met]


def keep(name: str, goals: Iterable[Goal], run: str, path: Path = SHOWN) -> None:
    """Put the figures of a goal in the place of those kept before.

    Parameters
    ----------
    name : str
        Of the goal, a letter and a number.
    goals : iterable of Goal
    run : str
        Size of the run.
    path : Path
    """
    rows = []
    if path.exists():
        with path.open(newline="", encoding="utf-8") as file:
            rows = [row for row in csv.DictReader(file) if row["goal"] != name]
    rows += [{"goal": name, "what": goal.what.strip(), "figure": f"{goal.figure:.4g}",
              "wanted": goal.wanted, "word": goal.word, "run": run} for goal in goals]
    rows.sort(key=lambda row: (row["goal"][0], int(row["goal"][1:])))  # rows of one stay in order
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, HEAD, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
