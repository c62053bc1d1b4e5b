"""Age replacement: change a hose at a set age unless it fails before, where that costs least.

The law of lives is known by joint draws only; nothing is averaged before cost has been worked
out in each draw.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.decide.cost_rate import BestAges, area_under, least_cost
from etl.life.cell_law import CellLaw
from etl.life.competing import AT_CHARACTERISTIC_LIFE, all_cause_b_life
from etl.life.joined_laws import JoinedLaws

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

STEP = 0.1
LOG_AGES = np.arange(-3.4, 2.05, STEP)
"""Ages tried, by ratio to the typical characteristic life: from a thirtieth to seven times."""
TAIL_POINTS, TAIL_WEIGHTS = np.polynomial.legendre.leggauss(12)
TAIL_LENGTH = 4.0
"""Beyond the ages tried the mean life is integrated over 12 Gauss points, as far as 400 typical
lives: a place that hardly ever fails may need them."""
AGES = np.exp(LOG_AGES)
TAIL_AGES = np.exp(LOG_AGES[-1] + 0.5 * TAIL_LENGTH * (TAIL_POINTS + 1.0))
TAIL_WEIGHT = (0.5 * TAIL_LENGTH * TAIL_WEIGHTS * TAIL_AGES).astype(np.float32)
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
    table = _HazardTable.of(law, 1)
    size = max(1, BLOCK // max(1, rate.shape[1]))
    for at in range(0, known.size, size):
        mine = known[at : at + size]
        found.put(mine, table.best(rate[mine], planned[mine], failure[mine], confidence))
    return found


def best_ages_of_kinds(
    laws: Sequence[CellLaw], planned: Floats, failure: Floats, *, confidence: float = 0.90
) -> BestAges:
    """Find the replacement age of least expected cost a year of many kinds of hose.

    Parameters
    ----------
    laws : sequence of CellLaw, length n
        Of as many draws each.
    planned, failure : ndarray, shape (n,), reporting currency
    confidence : float

    Returns
    -------
    BestAges
        As `best_ages` finds for a place of each kind whose rate is 1.
    """
    found = BestAges.unknown(planned.size)
    known = np.flatnonzero(np.isfinite(planned) & np.isfinite(failure)).tolist()
    for shape in dict.fromkeys(laws[at].shape.shape for at in known):
        like = [at for at in known if laws[at].shape.shape == shape]
        size = max(1, BLOCK // max(1, shape[0]))
        for first in range(0, len(like), size):
            mine = np.array(like[first : first + size])
            joined = JoinedLaws.of([laws[at] for at in like[first : first + size]])
            table = _HazardTable.of(joined, mine.size)
            one = np.ones((1, 1), np.float32)
            found.put(mine, table.best(one, planned[mine], failure[mine], confidence))
    return found


@dataclass(frozen=True)
class _HazardTable:
    """Cumulative hazard by age and draw of one kind, or of several side by side.

    Ages are shares of each kind's typical characteristic life, so that all have the same.

    Attributes
    ----------
    typical : ndarray, shape (n_kinds,), days
    hazard : ndarray, shape (n_ages, n_kinds, n_draws)
        At `AGES`.
    first : ndarray, shape (n_kinds, n_draws)
        Mean cumulative hazard between age 0 and the first age.
    later : ndarray, shape (n_tail, n_kinds, n_draws)
        At `TAIL_AGES`.
    """

    typical: Floats
    hazard: Singles
    first: Singles
    later: Singles

    @classmethod
    def of(cls, law: CellLaw, n_kinds: int) -> _HazardTable:
        """Tabulate a law, in which those of some kinds may stand side by side."""
        u = np.log(law.shape.astype(np.float64))
        life = all_cause_b_life(u, law.log_life.astype(np.float64),
                                np.zeros(u.shape[1], np.int64), 1, AT_CHARACTERISTIC_LIFE)
        log_typical = np.median(np.log(life).reshape(n_kinds, -1), axis=1)
        each = np.repeat(log_typical, u.shape[0] // n_kinds)[:, None]
        short = CellLaw(law.shape, (law.log_life - each).astype(np.float32))
        power = law.shape * (np.float32(LOG_AGES[0]) - short.log_life)
        first = (np.exp(np.minimum(power, np.float32(GREATEST_HAZARD))) / (law.shape + 1.0)).sum(1)

        def by_kind(values: Singles) -> Singles:
            return values.reshape(*values.shape[:-1], n_kinds, -1)

        return cls(np.exp(log_typical), by_kind(short.cumulative_hazard(AGES)), by_kind(first),
                   by_kind(short.cumulative_hazard(TAIL_AGES)))

    def best(
        self, rate: Singles, planned: Floats, failure: Floats, confidence: float
    ) -> BestAges:
        """Find the best ages of places of one kind, or of one place of each.

        Parameters
        ----------
        rate : ndarray, shape (n, n_draws) or (1, 1)
        planned, failure : ndarray, shape (n,)
        confidence : float
        """
        passed = np.minimum(self.hazard * rate, np.float32(GREATEST_HAZARD))
        alive = np.exp(-passed, out=passed)
        area = area_under(alive, AGES, np.float32(AGES[0]) * np.exp(-rate * self.first))
        later = np.minimum(self.later * rate, np.float32(GREATEST_HAZARD))
        life = area[-1] + np.einsum("k,kpd->pd", TAIL_WEIGHT, np.exp(-later))
        return least_cost(AGES, alive, area, life, planned, failure, confidence).in_units_of(
            np.broadcast_to(self.typical, planned.shape))
