"""Whether a replacement age pays, said in one of a few ways."""

from __future__ import annotations

from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from etl.decide.cost_rate import BestAges

Floats = NDArray[np.float64]


class Verdict(StrEnum):
    """What is to be said of a preventive age; every value but the first means none is advised."""

    PAYS = "pays"
    NO_FAILURE_COST = "the cost of a failure is not known"
    NO_PLANNED_COST = "the cost of a planned change is not known"
    NO_DIFFERENCE = "a planned change costs no less than a failure"
    NO_WEAR = "wear-out is not certain enough: the shape is not credibly above 1"
    NO_SAVING = "at no age would changing before failure cost less"
    UNSURE = "a saving is not likely enough"
    SMALL = "the saving is too small to plan for"
    IN_TRIAL = "the place takes part in a trial, which a change for cost would cut short"


def verdicts(
    found: BestAges, shape_lower: Floats, planned: Floats, failure: Floats, least_chance: float,
    least_share: float,
) -> list[Verdict]:
    """Judge each replacement age.

    Parameters
    ----------
    found : BestAges
        Of n places or kinds.
    shape_lower : ndarray, shape (n,)
        Lower bound of the shape of all mechanisms together (`joint_shape`).
    planned, failure : ndarray, shape (n,), reporting currency
        NaN where unknown.
    least_chance : float
        Chance of a saving below which no age is advised.
    least_share : float
        Saving over the yearly cost without a set age, below which none is advised.

    Returns
    -------
    list of Verdict, length n
        The first reason against, in the order of `Verdict`.

    Notes
    -----
    At a constant or falling hazard a new hose is no better than the old one, so that wear-out must
    be credible before any age is; the saving is judged only then.
    """
    against = [
        (np.isnan(failure), Verdict.NO_FAILURE_COST), (np.isnan(planned), Verdict.NO_PLANNED_COST),
        (planned >= failure, Verdict.NO_DIFFERENCE), (~(shape_lower > 1.0), Verdict.NO_WEAR),
        (np.isnan(found.age), Verdict.NO_SAVING), (found.chance < least_chance, Verdict.UNSURE),
        (found.saving < least_share * found.cost_never, Verdict.SMALL),
    ]
    order = list(Verdict)
    said = np.zeros(planned.size, np.int64)
    for holds, verdict in reversed(against):
        said[holds] = order.index(verdict)
    return [order[at] for at in said]
