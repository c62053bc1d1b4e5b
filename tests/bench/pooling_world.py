"""Invented fleets with known laws, for measuring what pooling does to them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.life.curves import exposure_curves
from etl.life.pooling.data import PoolingData

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SHAPE_SPREAD = {"class": 0.1, "construction": 0.1, "mechanism": 0.25, "residual": 0.15}
LIFE_SPREAD = {"class": 0.35, "construction": 0.3, "mechanism": 0.5, "residual": 0.25}
TYPICAL_SHAPE, TYPICAL_LIFE = 2.0, 4000.0


@dataclass(frozen=True)
class World:
    """One invented fleet: its laws and its lives.

    Attributes
    ----------
    log_shape, log_life : ndarray, shape (n_strata,)
        The truth. Strata run over cells, mechanisms fastest.
    factors : class, construction and mechanism of each stratum
    cell, entry, age, cause : ndarray, shape (n_lives,)
        ``cause`` is the mechanism of a failure, -1 for a suspension.
    n_mechanisms : int
    """

    log_shape: Floats
    log_life: Floats
    factors: tuple[Ints, Ints, Ints]
    cell: Ints
    entry: Floats
    age: Floats
    cause: Ints
    n_mechanisms: int

    @property
    def n_cells(self) -> int:
        """Cells of class and construction."""
        return self.log_shape.size // self.n_mechanisms

    @property
    def stratum_cell(self) -> Ints:
        """Cell of each stratum."""
        return np.repeat(np.arange(self.n_cells), self.n_mechanisms)

    @property
    def stratum(self) -> Ints:
        """Stratum of each life that failed, -1 for suspensions."""
        return np.where(self.cause >= 0, self.cell * self.n_mechanisms + self.cause, -1)

    @property
    def n_failures(self) -> Ints:
        """Failures of each stratum."""
        return np.bincount(self.stratum[self.cause >= 0], minlength=self.log_shape.size)


def make_world(
    rng: np.random.Generator, n_classes: int = 12, n_constructions: int = 14,
    n_mechanisms: int = 5, *, lives: tuple[int, int] = (4, 1500), life_factor: float = 1.0,
    residual_factor: float = 1.0, share_late: float = 0.30, watched: float = 1300.0,
) -> World:
    """Invent a fleet.

    Parameters
    ----------
    rng : Generator
    n_classes, n_constructions, n_mechanisms : int
    lives : tuple of int
        Fewest and most lives of a cell, log-uniform between them.
    life_factor : float
        Multiplies characteristic lives: 3 leaves half of the strata without a failure.
    residual_factor : float
        Multiplies the spread of strata around the effects.
    share_late : float
        Share of lives first seen at some age rather than new.
    watched : float
        Longest time for which a life is watched; uniform up to it.
    """
    n_cells = n_classes * n_constructions
    cell_class = np.repeat(np.arange(n_classes), n_constructions)
    cell_construction = np.tile(np.arange(n_constructions), n_classes)
    factors = (np.repeat(cell_class, n_mechanisms), np.repeat(cell_construction, n_mechanisms),
               np.tile(np.arange(n_mechanisms), n_cells))

    def law(centre: float, spread: dict[str, float]) -> Floats:
        value = np.full(n_cells * n_mechanisms, centre)
        for name, factor in zip(("class", "construction", "mechanism"), factors, strict=True):
            value += rng.normal(0.0, spread[name], factor.max() + 1)[factor]
        return value + rng.normal(0.0, spread["residual"] * residual_factor, value.size)

    log_shape = law(np.log(TYPICAL_SHAPE), SHAPE_SPREAD)
    log_life = law(np.log(TYPICAL_LIFE * life_factor), LIFE_SPREAD)
    size = np.exp(rng.uniform(np.log(lives[0]), np.log(lives[1] + 1), n_cells)).astype(int)
    cell = np.repeat(np.arange(n_cells), size)
    entry = np.where(rng.random(cell.size) < share_late, rng.uniform(0, 1500, cell.size), 0.0)
    shape = np.exp(log_shape).reshape(n_cells, n_mechanisms)[cell]
    life = np.exp(log_life).reshape(n_cells, n_mechanisms)[cell]
    past = (entry[:, None] / life) ** shape
    fails = life * (past + rng.exponential(size=shape.shape)) ** (1 / shape)
    end = entry + rng.uniform(0.0, watched, cell.size)
    first = fails.min(axis=1)
    cause = np.where(first <= end, fails.argmin(axis=1), -1)
    return World(log_shape, log_life, factors, cell, entry, np.minimum(first, end), cause,
                 n_mechanisms)


def pooling_data(world: World, is_masked: NDArray[np.bool_] | None = None) -> PoolingData:
    """Return the world as pooling sees it, the mechanism of masked failures unknown.

    Parameters
    ----------
    world : World
    is_masked : ndarray of bool, shape (n_lives,), optional
    """
    curves = exposure_curves(
        world.cell, world.age, world.entry, np.ones(world.age.size), world.n_cells
    )
    failed = world.cause >= 0
    masked = failed & is_masked if is_masked is not None else np.zeros_like(failed)
    known = failed & ~masked
    k = world.log_shape.size
    none, no_ages = np.zeros(0, np.int64), np.zeros(0)
    return PoolingData(
        curves, world.stratum_cell, world.factors,
        np.bincount(world.stratum[known], minlength=k).astype(float),
        np.bincount(world.stratum[known], weights=np.log(world.age[known]), minlength=k),
        world.cell[masked], world.age[masked], none, none, no_ages, no_ages,
    )
