"""Published lives as arrays."""

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np

DATA = Path(__file__).parent / "data"


@dataclass(frozen=True)
class PublishedLives:
    entry: np.ndarray
    low: np.ndarray
    high: np.ndarray
    count: np.ndarray
    group: np.ndarray
    mechanism: np.ndarray

    def arguments(self):
        """Return what the fits take, as one stratum."""
        return np.zeros(self.low.size, int), self.entry, self.low, self.high, self.count, 1

    def one_by_one(self):
        """Return the lives with every row standing for one life."""
        times = self.count.astype(int)
        return PublishedLives(*(np.repeat(column, times) for column in (
            self.entry, self.low, self.high, np.ones(times.size), self.group, self.mechanism)))

    def only(self, rows):
        return PublishedLives(*(column[rows] for column in (
            self.entry, self.low, self.high, self.count, self.group, self.mechanism)))


def published(name):
    with (DATA / f"{name}.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))

    def numbers(column, otherwise):
        return np.array([float(row.get(column) or otherwise) for row in rows])

    return PublishedLives(
        numbers("entry", 0.0), numbers("time_low", np.nan), numbers("time_high", np.inf),
        numbers("count", 1.0), np.array([row.get("group", "") for row in rows]),
        np.array([row.get("mechanism", "") for row in rows]))
