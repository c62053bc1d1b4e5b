"""Points at which the unknown velocity and frequency error of every place are tried."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from etl.life.vibration.exposure import Exposure

Floats = NDArray[np.float64]

FREQUENCY_SD = 0.15
"""Error of a natural frequency computed from a catalogue, in its log: 30 % either way on the
stiffness (common practice, no source)."""
WIDER = 1.5
"""The points reach this much further than what is believed so far, so that no tail is missed."""
LEAST_SD = 0.03
GENERATOR = {24: 7, 55: 34, 89: 55}
"""Second coordinate of the lattice by number of points; the last two are Fibonacci's."""
TURNS = (0.6180339887498949, 0.7548776662466927)
"""Shift from place to place: no two places share their points, so that errors average out."""


@dataclass(frozen=True)
class Nodes:
    """Quadrature points of every place.

    Attributes
    ----------
    velocity, frequency : ndarray, shape (n_places, n_nodes)
        Log velocity, and error of the log natural frequency.
    log_weight : ndarray, shape (n_places, n_nodes)
        Log weight of each point, the prior of velocity not yet counted: one over the number of
        points and over the density that they stand for, times the prior of the frequency error.
    """

    velocity: Floats
    frequency: Floats
    log_weight: Floats


def nodes_at(
    mean: Floats, spread: Floats, n_nodes: int, *, has_frequency: bool, least: float = LEAST_SD
) -> Nodes:
    """Lay the points of a lattice over what is believed of every place.

    Parameters
    ----------
    mean : ndarray, shape (n_places, 2)
        Of log velocity and frequency error.
    spread : ndarray, shape (n_places, 3)
        Standard deviation of log velocity; what is left of that of the frequency error; slope of
        the second on the first.
    n_nodes : int
        One of `GENERATOR`.
    has_frequency : bool
        False takes the frequency as exact.
    least : float
        Smallest standard deviation: what is believed may be narrower than the last points saw.

    Returns
    -------
    Nodes

    Notes
    -----
    A rank-one lattice, shifted from place to place, through the normal law (Sloan & Joe 1994).
    Products of Gauss points need many times as many: the resonance curve has sharp peaks.
    """
    unit = np.arange(n_nodes) / n_nodes
    place = np.arange(mean.shape[0])[:, None]
    first = ndtri((unit + place * TURNS[0] + 0.5 / n_nodes) % 1.0 * (1 - 2e-9) + 1e-9)
    sd = np.maximum(spread[:, :1], least) * WIDER
    velocity = mean[:, :1] + sd * first
    log_weight = 0.5 * first**2 + np.log(sd / n_nodes)
    if not has_frequency:
        return Nodes(velocity, np.zeros_like(velocity), log_weight)
    other = (unit * GENERATOR[n_nodes] + place * TURNS[1]) % 1.0
    second = ndtri(other * (1 - 2e-9) + 1e-9)
    sd = np.maximum(
        spread[:, 1:2], min(least, FREQUENCY_SD / 2)) * WIDER
    frequency = mean[:, 1:] + spread[:, 2:] * (velocity - mean[:, :1]) + sd * second
    log_weight += 0.5 * (second**2 - (frequency / FREQUENCY_SD) ** 2) + np.log(sd / FREQUENCY_SD)
    return Nodes(velocity, frequency, log_weight)


def first_nodes(exposure: Exposure, n_nodes: int, *, has_frequency: bool) -> Nodes:
    """Lay the points over the prior."""
    n = exposure.mean.size
    mean = np.stack([exposure.mean, np.zeros(n)], axis=1)
    spread = np.stack([exposure.sd, np.full(n, FREQUENCY_SD), np.zeros(n)], axis=1)
    return nodes_at(mean, spread, n_nodes, has_frequency=has_frequency)


def moments_of(nodes: Nodes, weight: Floats) -> tuple[Floats, Floats]:
    """Return mean and spread of every place, in the form that `nodes_at` takes.

    Parameters
    ----------
    nodes : Nodes
    weight : ndarray, shape (n_places, n_nodes)
        Posterior share of each point.
    """
    y = (weight * nodes.velocity).sum(axis=1)
    g = (weight * nodes.frequency).sum(axis=1)
    dy, dg = nodes.velocity - y[:, None], nodes.frequency - g[:, None]
    vy, vg, cov = ((weight * part).sum(axis=1) for part in (dy * dy, dg * dg, dy * dg))
    slope = np.where(vy > LEAST_SD**2, cov / np.maximum(vy, LEAST_SD**2), 0.0)
    rest = np.sqrt(np.maximum(vg - slope * cov, 0.0))
    return np.stack([y, g], axis=1), np.stack([np.sqrt(vy), rest, slope], axis=1)
