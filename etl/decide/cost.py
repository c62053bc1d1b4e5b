"""What one failure, or one planned change, costs at each place, and how that is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

PRIOR_CHANGES = 3.0
"""A class's typical cost counts as much as three changes at the place itself."""

LEAST_FOR_FENCE = 5
"""Below so many costs one giant among them moves the quartiles themselves."""

FEW_TIMES = 10.0
"""Where quartiles say nothing, a cost above so many times the typical is capped (our choice)."""

RECORDED_HERE, RECORDED_IN_CLASS, REGISTER, UNKNOWN = (
    "recorded here", "recorded in class", "register", "unknown",
)


@dataclass(frozen=True)
class ChangeCost:
    """Cost of one change of a kind, failure or planned, at each service point.

    Attributes
    ----------
    cost : ndarray, shape (n_places,), reporting currency
        NaN where nothing is known.
    origin : tuple of str, length n_places
        ``recorded here``, ``recorded in class``, ``register`` or ``unknown``.
    """

    cost: Floats
    origin: tuple[str, ...]


def cap_outliers(
    cost: Floats, group: Ints, n_groups: int, other: Floats | None = None,
    other_group: Ints | None = None,
) -> Floats:
    """Cap costs above the outer fence of their group, so that one giant invoice cannot rule.

    Parameters
    ----------
    cost : ndarray, shape (n,), reporting currency
    group : ndarray of int, shape (n,)
    n_groups : int
    other : ndarray, shape (m,), optional
        What else is known of costs, such as a register's; NaN counts for nothing.
    other_group : ndarray of int, shape (m,), optional

    Returns
    -------
    ndarray, shape (n,)

    Notes
    -----
    The outer fence is the upper quartile plus three interquartile ranges. With fewer than
    `LEAST_FOR_FENCE` costs, or where half of them are alike to the penny, it is `FEW_TIMES` the
    median, the lower of two, of the costs above 0 and, with few, of what else is known.

    References
    ----------
    Tukey, J. W. (1977), Exploratory Data Analysis, Addison-Wesley (outer fence; from memory).
    """
    capped = cost.astype(np.float64, copy=True)
    for index in range(n_groups):
        mine = group == index
        known = cost[mine]
        if known.size >= LEAST_FOR_FENCE:
            low, high = np.quantile(known, [0.25, 0.75])
            if high > low:
                capped[mine] = np.minimum(known, high + 3.0 * (high - low))
                continue
        elif other is not None:
            known = np.r_[known, other[np.isfinite(other) & (other_group == index)]]
        known = known[known > 0.0]
        if known.size:
            typical = float(np.quantile(known, 0.5, method="lower"))
            capped[mine] = np.minimum(cost[mine], FEW_TIMES * typical)
    return capped


def change_cost(
    cost: Floats, place: Ints, place_class: Ints, register_cost: Floats
) -> ChangeCost:
    """Estimate the cost of one change at each service point, from changes of the same kind.

    Parameters
    ----------
    cost : ndarray, shape (n_changes,), reporting currency
        Recorded cost of past failures, or of past planned changes, lost production included;
        every value finite.
    place : ndarray of int, shape (n_changes,)
        Service point of each recorded cost.
    place_class : ndarray of int, shape (n_places,)
        Application class of each service point.
    register_cost : ndarray, shape (n_places,), reporting currency
        Downtime, labour and part price by the register; NaN where the register does not say.

    Returns
    -------
    ChangeCost

    Notes
    -----
    Recorded costs are capped within their class (`cap_outliers`), averaged, and drawn towards the
    class average with the weight of `PRIOR_CHANGES` changes. A class without any recorded cost
    falls back on the register.
    """
    n_places = place_class.size
    n_classes = int(place_class.max(initial=-1)) + 1
    capped = cap_outliers(cost, place_class[place], n_classes, register_cost, place_class)
    n_here = np.bincount(place, minlength=n_places)
    sum_here = np.bincount(place, weights=capped, minlength=n_places)
    n_class = np.bincount(place_class[place], minlength=n_classes)
    sum_class = np.bincount(place_class[place], weights=capped, minlength=n_classes)
    with np.errstate(invalid="ignore", divide="ignore"):
        class_mean = (sum_class / n_class)[place_class] if n_classes else np.zeros(0)
        shrunk = (sum_here + PRIOR_CHANGES * class_mean) / (n_here + PRIOR_CHANGES)
    is_recorded = np.isfinite(shrunk)
    result = np.where(is_recorded, shrunk, register_cost)
    origin = np.where(
        is_recorded & (n_here >= PRIOR_CHANGES), RECORDED_HERE,
        np.where(is_recorded, RECORDED_IN_CLASS,
                 np.where(np.isfinite(register_cost), REGISTER, UNKNOWN)),
    )
    return ChangeCost(result, tuple(origin.tolist()))
