"""Age replacement: change a hose at a set age unless it fails before, where that costs least.

The law of lives is known by joint draws only; nothing is averaged before cost has been worked
out in each draw.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.decide.cost_rate import BestAges, area_under, least_cost
from etl.life.cell_law import CellLaw
from etl.life.competing import AT_CHARACTERISTIC_LIFE, all_cause_b_life

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

STEP = 0.1
LOG_AGES = np.arange(-3.4, 2.05, STEP)
"""Ages tried, by ratio to the typical characteristic life: from a thirtieth to seven times."""
TAIL_POINTS, TAIL_WEIGHTS = np.polynomial.legendre.leggauss(12)
TAIL_LENGTH = 4.0
"""Beyond the ages tried the mean life is integrated over 12 Gauss points, as far as 400 typical
lives: a place that hardly ever fails may need them."""
GREATEST_HAZARD = 80.0
"""exp(-80) is nothing in single precision."""
BLOCK = 6_000
"""Places times draws worked on at once, so that a block stays in the processor's cache."""


def joint_shape(log_shape: Floats, log_life: Floats) -> Floats:
    """Return how steeply the hazard of competing mechanisms rises, as one shape.

    Parameters
    ----------
    log_shape, log_life : ndarray, shape (n_draws, n_mechanisms)
        Joint draws.

    Returns
    -------
    ndarray, shape (n_draws,)
        Slope of the log cumulative hazard of all mechanisms over log age, at their common
        characteristic life; the Weibull shape where there is one mechanism only.

    Examples
    --------
    >>> joint_shape(np.log([[2.0, 2.0]]), np.log([[400.0, 900.0]])).round(6)
    array([2.])
    """
    life = all_cause_b_life(
        log_shape, log_life, np.zeros(log_shape.shape[1], np.int64), 1, AT_CHARACTERISTIC_LIFE)
    shape = np.exp(log_shape)
    share = np.exp(shape * (np.log(life) - log_life))
    return np.asarray((shape * share).sum(axis=1) / share.sum(axis=1))


def best_ages(
    law: CellLaw, rate: Singles, planned: Floats, failure: Floats, *, confidence: float = 0.90
) -> BestAges:
    """Find the replacement age of least expected cost a year.

    Parameters
    ----------
    law : CellLaw
        Joint draws of the competing mechanisms of one kind of hose.
    rate : ndarray, shape (n, n_draws)
        Multiplier of the hazard at each place, in draws that go with those of the law.
    planned, failure : ndarray, shape (n,), reporting currency
        Cost of a planned change and of a failure; NaN where unknown.
    confidence : float
        Content of the range of the saving.

    Returns
    -------
    BestAges

    Notes
    -----
    In each draw the cost rate of age T is (planned S(T) + failure F(T)) / integral of S from 0
    to T, and failure / mean life without a set age (renewal reward). The age chosen has the
    least mean over draws, among ages a tenth apart by ratio, refined by a parabola.

    References
    ----------
    Barlow, R. E. and Hunter, L. C. (1960), Optimum preventive maintenance policies, Operations
    Research 8, 90-100 (form of the cost rate; from memory).
    """
    known = np.flatnonzero(np.isfinite(planned) & np.isfinite(failure))
    found = BestAges.unknown(planned.size)
    table = _hazard_table(law)
    size = max(1, BLOCK // max(1, rate.shape[1]))
    for at in range(0, known.size, size):
        mine = known[at : at + size]
        alive, area, life = table.survival(rate[mine])
        found.put(mine, least_cost(
            table.age, alive, area, life, planned[mine], failure[mine], confidence))
    return found


@dataclass(frozen=True)
class _HazardTable:
    """Cumulative hazard of one kind by age and draw.

    Attributes
    ----------
    age : ndarray, shape (n_ages,), days
    hazard : ndarray, shape (n_ages, n_draws)
    first : ndarray, shape (n_draws,)
        Mean cumulative hazard between age 0 and the first age.
    tail_weight : ndarray, shape (n_tail,), days
        Of survival at the ages beyond the last, in the mean life.
    tail_hazard : ndarray, shape (n_tail, n_draws)
    """

    age: Floats
    hazard: Singles
    first: Singles
    tail_weight: Singles
    tail_hazard: Singles

    def survival(self, rate: Singles) -> tuple[Singles, Singles, Singles]:
        """Return survival, its integral up to each age, and the mean life, ages first."""
        passed = np.minimum(self.hazard[:, None, :] * rate, np.float32(GREATEST_HAZARD))
        alive = np.exp(-passed, out=passed)
        start = np.float32(self.age[0]) * np.exp(-rate * self.first)
        area = area_under(alive, self.age, start)
        later = np.minimum(self.tail_hazard[:, None, :] * rate, np.float32(GREATEST_HAZARD))
        life = area[-1] + np.einsum("k,kpd->pd", self.tail_weight, np.exp(-later))
        return alive, area, life


def _hazard_table(law: CellLaw) -> _HazardTable:
    """Tabulate the hazard around the typical characteristic life of the draws."""
    u = np.log(law.shape.astype(np.float64))
    life = all_cause_b_life(u, law.log_life.astype(np.float64),
                            np.zeros(u.shape[1], np.int64), 1, AT_CHARACTERISTIC_LIFE)
    typical = float(np.median(np.log(life)))
    age = np.exp(typical + LOG_AGES)
    power = law.shape * (np.float32(np.log(age[0])) - law.log_life)
    first = (np.exp(np.minimum(power, np.float32(GREATEST_HAZARD))) / (law.shape + 1.0)).sum(axis=1)
    later = np.exp(typical + LOG_AGES[-1] + 0.5 * TAIL_LENGTH * (TAIL_POINTS + 1.0))
    return _HazardTable(
        age, law.cumulative_hazard(age), first.astype(np.float32),
        (0.5 * TAIL_LENGTH * TAIL_WEIGHTS * later).astype(np.float32),
        law.cumulative_hazard(later),
    )
