"""Lives at risk and the product-limit estimate of survival, all strata at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from etl.life.segments import segments

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

ALL_GONE = 40.0
"""Hazard that no draw gets past."""


def at_risk_before(
    key: Ints, entry: Floats, age: Floats, failed: Bools, count: Floats
) -> tuple[Floats, Ints]:
    """Return the lives at risk at each end, and the order of the ends by stratum and age.

    Parameters
    ----------
    key : ndarray of int, shape (n,)
        Stratum.
    entry, age : ndarray, shape (n,)
        Age at entry and at the end.
    failed : ndarray of bool, shape (n,)
        A failure comes before a suspension of the same age.
    count : ndarray, shape (n,)

    Returns
    -------
    at_risk : ndarray, shape (n,), in that order
    order : ndarray of int, shape (n,)
    """
    n, late = key.size, np.flatnonzero(entry > 0.0)
    both_keys = np.concatenate([key, key[late]])
    when = np.concatenate([age, entry[late]])
    # at one age failures come first, then suspensions; an entry counts after its age
    order = np.concatenate([np.flatnonzero(failed), np.flatnonzero(~failed),
                            np.arange(n, when.size)])
    order = order[np.argsort(when[order], kind="stable")]
    narrow = np.min_scalar_type(int(both_keys.max(initial=0)))  # few digits are sorted fast
    order = order[np.argsort(both_keys[order].astype(narrow), kind="stable")]
    signed = np.concatenate([-count, count[late]])
    running = running_sum(both_keys[order], signed[order])
    is_end = order < n
    ends = order[is_end]
    from_new = np.bincount(key, np.where(entry > 0.0, 0.0, count))
    return running[is_end] + count[ends] + from_new[key[ends]], ends


def running_sum(key: Ints, values: Floats) -> Floats:
    """Return the sum of values so far within each run of equal keys.

    Parameters
    ----------
    key : ndarray of int, shape (n,)
        Sorted.
    values : ndarray, shape (n,)

    Returns
    -------
    ndarray, shape (n,)
    """
    runs = segments(key)
    total = np.cumsum(values)
    before = np.concatenate([[0.0], total])[runs.starts]
    return np.asarray(total - runs.spread(before))


def product_limit(
    key: Ints, age: Floats, failed: Bools, count: Floats, at_risk: Floats
) -> tuple[Floats, Floats]:
    """Return survival and its standard error after each end, ties of one age together.

    Parameters
    ----------
    key, age, failed, count, at_risk : ndarray, shape (n,)
        Ends in order, as `at_risk_before` gives them.

    Returns
    -------
    survival, error : ndarray, shape (n,)
        Kaplan-Meier estimate and Greenwood's standard error.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, section 8.2.1.5.
    """
    new, tie = _ties(key, age)
    tie_key, n = key[new], at_risk[new]
    deaths = np.bincount(tie, np.where(failed, count, 0.0))
    share = np.divide(deaths, n, out=np.zeros(n.size), where=n > 0.0)
    is_last = share >= 1.0 - 1e-12
    log_left = np.log1p(-np.where(is_last, 0.0, share))
    gone = running_sum(tie_key, is_last.astype(np.float64)) > 0.0
    survival = np.where(gone, 0.0, np.exp(running_sum(tie_key, log_left)))
    spread = np.divide(deaths, n * (n - deaths), out=np.zeros(n.size), where=n > deaths)
    return survival[tie], (survival * np.sqrt(running_sum(tie_key, spread)))[tie]


def accumulated_hazard(
    key: Ints, age: Floats, failed: Bools, count: Floats, at_risk: Floats
) -> Floats:
    """Return minus the log of the product-limit survival after each end, without an end.

    Parameters
    ----------
    key, age, failed, count, at_risk : ndarray, shape (n,)
        As in `product_limit`.

    Returns
    -------
    ndarray, shape (n,)
        Where all at risk go, it rises by `ALL_GONE`, and goes on for those who enter later.
    """
    new, tie = _ties(key, age)
    n = at_risk[new]
    deaths = np.bincount(tie, np.where(failed, count, 0.0))
    share = np.divide(deaths, n, out=np.zeros(n.size), where=n > 0.0)
    is_last = share >= 1.0 - 1e-12
    steps = np.where(is_last, ALL_GONE, -np.log1p(-np.where(is_last, 0.0, share)))
    return running_sum(key[new], steps)[tie]


def _ties(key: Ints, age: Floats) -> tuple[Bools, Ints]:
    """Return which ends are the first of their stratum and age, and the number of each age."""
    new = np.ones(key.size, np.bool_)
    new[1:] = (key[1:] != key[:-1]) | (age[1:] != age[:-1])
    return new, np.cumsum(new) - 1
