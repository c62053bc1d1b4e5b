"""The two arms of a plan as laws: joint draws where hoses of the kind were seen, a guess else."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.build.statistics import LifeStatistics
from etl.build.trial.pools import Pool
from etl.decide.age_replacement import joint_shape
from etl.decide.trial.design import WORTH_KNOWING, World
from etl.decide.trial.pairs import Pair
from etl.decide.trial.posterior import Prior
from etl.decide.trial.simulate import ArmLaw, FixedLaw
from etl.settings import Settings

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]

LIFE_SPREAD = 0.35
"""Standard deviation of log life between constructions where too few were seen in a class to tell;
about a factor of 1.8 either way at 90 % (our choice)."""
LEAST_SPREAD = 0.10
"""No two constructions are known to be more alike than this before they stood side by side."""
BOTH_SEEN = "hoses of both constructions in this class"
ONE_SEEN = "any two constructions there, since one was never fitted in this class"
NONE_SEEN = "any two constructions there, since neither was fitted in this class"


@dataclass(frozen=True)
class Arms:
    """Laws and beliefs of the flexible (first) and the stiff (second) arm.

    Attributes
    ----------
    first, second : ArmLaw
        Of every joint draw.
    log_ratio : ndarray, shape (n_draws,)
        Log of life of the second over the first.
    law : FixedLaw
        Of the present construction, the same for both arms.
    prior : Prior
    basis : str
        What the beliefs rest on.
    base, other : str
        Construction fitted today, and the arm that it would be changed for.
    log_ratio_of_other : float
        Mean log of life of the other over the base.
    place : mapping of service point to position
    """

    first: ArmLaw
    second: ArmLaw
    log_ratio: Floats
    law: FixedLaw
    prior: Prior
    basis: str
    base: str
    other: str
    log_ratio_of_other: float
    place: dict[str, int]

    @property
    def told_probability(self) -> float:
        """Chance that the records alone choose the longer-lived arm, lives 20 % apart or more."""
        matters = np.abs(self.log_ratio) > WORTH_KNOWING
        if not matters.any():
            return 0.5
        right = (self.log_ratio > 0.0) == (self.prior.log_life_ratio > 0.0)
        return float(right[matters].mean())

    def world(
        self, pairs: Sequence[Pair], rate: Singles, n_trials: int, rng: np.random.Generator
    ) -> World:
        """Return what the trials of these pairs are simulated from."""
        draw = np.arange(n_trials) % self.log_ratio.size
        at = np.array([[self.place[pair.first], self.place[pair.second]] for pair in pairs])
        at = at[: max(len(pairs), 1)].astype(np.int64)
        drawn = np.moveaxis(rate[at][..., draw], 2, 0).astype(np.float64)
        known = rate[at].mean(axis=2, dtype=np.float64)
        return World(
            ArmLaw(self.first.shape[draw], self.first.log_life[draw]),
            ArmLaw(self.second.shape[draw], self.second.log_life[draw]),
            self.log_ratio[draw], np.maximum(drawn, 1e-6), np.maximum(known, 1e-6), self.law,
            self.prior,
        )


def arms_of(found: LifeStatistics, pool: Pool, rate: Singles, settings: Settings) -> Arms | None:
    """Return the laws of both arms of a group of like places.

    Parameters
    ----------
    found : LifeStatistics
    pool : Pool
    rate : ndarray, shape (n_places, n_draws)
    settings : Settings

    Returns
    -------
    Arms or None
        None where the class has no hoses to learn from at all.

    Notes
    -----
    The ratio read from records carries a doubt of its own, since kinds of hose stood at unlike
    places. An arm that was never fitted in the class lives as the hose fitted there now does, times
    a lognormal factor as wide as constructions of the class lie apart. Where neither arm is fitted
    now, a change would be for the one that is likelier to last longer.
    """
    kind, present = str(pool.anchor["application_class"]), str(pool.anchor["construction"])
    wanted = (pool.arms.flexible, pool.arms.stiff)
    cells = [cell_of(found, kind, name) for name in wanted]
    base_cell = cell_of(found, kind, present)
    base = next((cell for cell in (base_cell, *cells) if cell >= 0), -1)
    if base < 0:
        return None
    base_law = _law(found, base)
    rng = np.random.default_rng([settings.seed, base])
    spread = _spread(found, kind)
    laws: list[ArmLaw] = []
    lives: list[Floats] = []
    for cell in cells:
        n_draws = base_law.shape.shape[0]
        factor = np.asarray(rng.normal(0.0, spread if cell < 0 else 0.0, n_draws), np.float64)
        used = base if cell < 0 else cell
        laws.append(_law(found, used).lengthened(factor))
        lives.append(np.log(found.life[:, used]) + factor)
    doubt = np.asarray(rng.normal(0.0, settings.trial_records_doubt_log_sd,
                                  base_law.shape.shape[0]), np.float64)
    laws[1] = laws[1].lengthened(doubt)
    ratio = lives[1] - lives[0] + doubt
    n_seen = sum(cell >= 0 for cell in cells)
    shape = float(np.median(_shape(found, base)))
    prior = Prior(float(ratio.mean()), max(float(ratio.std()), LEAST_SPREAD), shape,
                  settings.trial_within_pair_concentration)
    if present in wanted:
        at = 1 - wanted.index(present)
        over = prior.log_life_ratio if at else -prior.log_life_ratio
    else:
        at = int(prior.log_life_ratio > 0.0)
        over = float((lives[at] - np.log(found.life[:, base])).mean())
    return Arms(
        laws[0], laws[1], ratio, FixedLaw(shape, float(np.median(found.life[:, base]))), prior,
        (NONE_SEEN, ONE_SEEN, BOTH_SEEN)[n_seen], present, wanted[at], over,
        dict(zip(pool.members["service_point"].tolist(),
                 pool.members["place"].astype(np.int64).tolist(), strict=True)),
    )


def cell_of(found: LifeStatistics, application_class: str, construction: str) -> int:
    """Return the cell of a kind of hose, -1 where it has no stratum."""
    lives = found.lives
    for cell in np.unique(found.strata.cell):
        if (lives.classes[lives.cell_class[cell]] == application_class
                and lives.constructions[lives.cell_construction[cell]] == construction):
            return int(cell)
    return -1


def _law(found: LifeStatistics, cell: int) -> ArmLaw:
    own = np.flatnonzero(found.strata.cell == cell)
    return ArmLaw(np.exp(found.draws.log_shape[:, own].astype(np.float64)),
                  found.draws.log_life[:, own].astype(np.float64))


def _shape(found: LifeStatistics, cell: int) -> Floats:
    own = np.flatnonzero(found.strata.cell == cell)
    return joint_shape(found.draws.log_shape[:, own].astype(np.float64),
                       found.draws.log_life[:, own].astype(np.float64))


def _spread(found: LifeStatistics, kind: str) -> float:
    """Return how far constructions of a class lie apart in log life."""
    lives = found.lives
    mine = [cell for cell in np.unique(found.strata.cell)
            if lives.classes[lives.cell_class[cell]] == kind]
    if len(mine) < 3:
        return LIFE_SPREAD
    middle = np.log(found.life[:, mine]).mean(axis=0)
    return max(float(np.std(middle, ddof=1)) * float(np.sqrt(2.0)), LIFE_SPREAD)
