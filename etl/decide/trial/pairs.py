"""Pairs of like places for a trial, and the coin that gives each place its arm."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Place:
    """A place that could take part.

    Attributes
    ----------
    name : str
    equipment, line, site : str
        Empty where the register is silent.
    expected_failures : float
        In a year.
    """

    name: str
    equipment: str
    line: str
    site: str
    expected_failures: float


@dataclass(frozen=True)
class Pair:
    """Two like places, and what they share."""

    first: str
    second: str
    shares: str
    expected_failures: float


def pair_places(places: Sequence[Place]) -> list[Pair]:
    """Pair the places that are most alike, those that fail most first.

    Parameters
    ----------
    places : sequence of Place
        Of one application class and nominal size; in any order.

    Returns
    -------
    list of Pair
        By falling expected failures; one place is left over where their number is odd.

    Notes
    -----
    Places on one machine are paired first, then those left over on one line, then on one site.
    Among several, neighbours in expected failures go together: the more alike a pair, the more
    of what has nothing to do with the arms cancels.
    """
    left = sorted(places, key=lambda item: (-item.expected_failures, item.name))
    pairs: list[Pair] = []
    for shares in ("equipment", "line", "site"):
        waiting: dict[tuple[str, ...], Place] = {}
        rest: list[Place] = []
        for place in left:
            key = _key(place, shares)
            if key is None:
                rest.append(place)
            elif key in waiting:
                mate = waiting.pop(key)
                pairs.append(Pair(mate.name, place.name, shares,
                                  mate.expected_failures + place.expected_failures))
            else:
                waiting[key] = place
        left = sorted([*rest, *waiting.values()],
                      key=lambda item: (-item.expected_failures, item.name))
    return sorted(pairs, key=lambda pair: (-pair.expected_failures, pair.first))


def _key(place: Place, shares: str) -> tuple[str, ...] | None:
    """Return what two places must have in common, None where the register is silent."""
    if shares == "site":
        return (place.site,)
    value = place.equipment if shares == "equipment" else place.line
    return (place.site, value) if value else None


def second_arm_is_on_second(trial: str, pair: Pair, seed: int) -> bool:
    """Toss the coin of a pair.

    Parameters
    ----------
    trial : str
        Name of the trial.
    pair : Pair
    seed : int
        Registered with the trial.

    Returns
    -------
    bool
        True where the pair's second place takes the second arm.

    Notes
    -----
    One bit of a hash of seed, trial and places: anybody can toss it again and find the same,
    whatever the machine, and nobody can choose it by the order of rows.
    """
    text = "\x1f".join((str(seed), trial, pair.first, pair.second))
    return bool(hashlib.sha256(text.encode()).digest()[0] & 1)
