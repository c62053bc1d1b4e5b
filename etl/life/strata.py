"""Lives checked and laid out for fitting: sorted by stratum, logs centred, split by kind."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from etl.errors import FitError
from etl.life.segments import Segments, segments, sorting_order

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Strata:
    """Lives of many strata, ready for likelihoods. Logs of ages are less ``centre``.

    Attributes
    ----------
    n_strata : int
    n_failures, n_intervals, n_suspensions, n_unobserved : ndarray, shape (n_strata,)
        Lives by kind, counted with their weights. ``n_unobserved`` are suspensions seen for no
        time: they carry no information and are in none of the others.
    centre : ndarray, shape (n_strata,)
        Log of the greatest age at an end of exposure; 0 without exposure.
    greatest_low, least_high : ndarray, shape (n_strata,), centred logs
        The oldest age that some life is known to have reached, and the youngest by which some
        failed life is known to have failed; -inf and inf where there is none.
    sum_log_failure : ndarray, shape (n_strata,)
        Sum of centred log ages at exact failures.
    is_late : ndarray of bool, shape (n_strata,)
        Some life entered late.
    is_all_late : ndarray of bool, shape (n_strata,)
        Every life entered late.
    exposure : ndarray, shape (n_rows,)
        Centred log ages: the end (lower end of an interval) of each life, and its entry age.
    exposure_weight : ndarray, shape (n_rows,), or None
        Count of each end, minus the count for each entry; None if all are 1.
    exposure_runs : Segments
        Strata of the rows of ``exposure``.
    interval_low, interval_high : ndarray, shape (n_intervals,)
        Centred logs of both ends; -inf for a lower end at 0.
    interval_weight : ndarray, shape (n_intervals,)
    interval_runs : Segments
    """

    n_strata: int
    n_failures: Floats
    n_intervals: Floats
    n_suspensions: Floats
    n_unobserved: Floats
    centre: Floats
    greatest_low: Floats
    least_high: Floats
    sum_log_failure: Floats
    is_late: Bools
    is_all_late: Bools
    exposure: Floats
    exposure_weight: Floats | None
    exposure_runs: Segments
    interval_low: Floats
    interval_high: Floats
    interval_weight: Floats
    interval_runs: Segments


def arrange_strata(
    stratum: ArrayLike, entry: ArrayLike, low: ArrayLike, high: ArrayLike, count: ArrayLike,
    n_strata: int,
) -> Strata:
    """Check lives and lay them out by stratum.

    Parameters
    ----------
    stratum : array_like of int, shape (n,)
        0 .. n_strata - 1, in any order.
    entry : array_like of float, shape (n,)
        Age at entry, >= 0; 0 where the life was seen from new.
    low, high : array_like of float, shape (n,)
        Age at the end, any unit of time. Equal: failed at that age. ``high`` infinite: suspended
        at ``low``. Otherwise: failed after ``low`` and not after ``high``.
    count : array_like of float, shape (n,)
        Lives that a row stands for, > 0; fractions allowed.
    n_strata : int

    Returns
    -------
    Strata

    Raises
    ------
    FitError
        An age is negative or not a number, a failure is not after its entry, an interval ends
        before it begins, a count is not positive, or lengths differ.
    """
    key, columns = _columns(stratum, entry, low, high, count)
    _refuse_impossible(key, *columns)
    order = sorting_order(key, n_strata)
    if order is not None:
        key, columns = key[order], [column[order] for column in columns]
    entries, lows, highs, counts = columns
    suspended = np.isinf(highs)
    unobserved: Floats = np.zeros(n_strata)
    idle = suspended & (lows <= entries)
    if bool(idle.any()):
        unobserved = _counted(key[idle], counts[idle], n_strata)
        kept = ~idle
        key, suspended = key[kept], suspended[kept]
        entries, lows, highs, counts = (column[kept] for column in columns)
    return _lay_out(key, entries, np.maximum(lows, entries), highs, counts, suspended,
                    unobserved, n_strata)


def _lay_out(
    key: Ints, entry: Floats, low: Floats, high: Floats, count: Floats, suspended: Bools,
    unobserved: Floats, n_strata: int,
) -> Strata:
    """Return the layout of checked, sorted, informative lives."""
    runs = segments(key)
    exact = np.flatnonzero(high == low)
    spans = np.flatnonzero(~suspended & (high > low))
    with np.errstate(divide="ignore"):  # log 0 = -inf marks an interval from 0
        log_low = np.log(low)
    span_high = np.log(high[spans])
    greatest = _by_stratum(runs, runs.max(log_low), n_strata, -np.inf)
    centre = greatest.copy()
    unaged = np.isinf(greatest)
    if bool(unaged.any()):  # only intervals from 0, or no lives at all
        np.maximum.at(centre, key[spans], np.where(unaged[key[spans]], span_high, -np.inf))
        centre[np.isinf(centre)] = 0.0
    y = log_low - runs.spread(centre[runs.keys])
    weight = None if bool(np.all(count == 1.0)) else count
    failures, sums, least = _exact_failures(
        key[exact], y[exact], None if weight is None else weight[exact], n_strata)
    span_high = span_high - centre[key[spans]]
    np.minimum.at(least, key[spans], span_high)
    intervals = _counted(key[spans], count[spans], n_strata)
    n_rows = _by_stratum(runs, runs.sizes, n_strata, 0.0)
    if weight is None:
        suspensions = n_rows - failures - intervals
    else:
        suspensions = _counted(key[suspended], count[suspended], n_strata)
    late = np.bincount(key[entry > 0.0], minlength=n_strata)
    exposure, exposure_weight, exposure_runs = _exposure(key, y, entry, low, weight, centre)
    return Strata(
        n_strata, failures, intervals, suspensions, unobserved, centre, greatest - centre, least,
        sums, late > 0, (late > 0) & (late == n_rows), exposure, exposure_weight, exposure_runs,
        y[spans], span_high, count[spans], segments(key[spans]),
    )


def _counted(key: Ints, weight: Floats, n_strata: int) -> Floats:
    """Return the weights added up by stratum."""
    return np.bincount(key, weight, n_strata).astype(np.float64)


def _by_stratum(
    runs: Segments, values: NDArray[np.generic], n_strata: int, otherwise: float
) -> Floats:
    """Return values of the strata that occur among all strata."""
    result = np.full(n_strata, otherwise)
    result[runs.keys] = values
    return result


def _exact_failures(
    key: Ints, y: Floats, weight: Floats | None, n_strata: int
) -> tuple[Floats, Floats, Floats]:
    """Return count, sum and least of the centred log ages at exact failures."""
    runs = segments(key)
    return (
        _by_stratum(runs, runs.sizes if weight is None else runs.sum(weight), n_strata, 0.0),
        _by_stratum(runs, runs.sum(y if weight is None else y * weight), n_strata, 0.0),
        _by_stratum(runs, -runs.max(-y), n_strata, np.inf),
    )


def _exposure(
    key: Ints, y: Floats, entry: Floats, low: Floats, weight: Floats | None, centre: Floats
) -> tuple[Floats, Floats | None, Segments]:
    """Return the rows of exposure: ends with weight +, entries with weight -, sorted."""
    exposed = low > entry  # not so for an interval that opens at entry
    if not bool(exposed.all()):
        key, y, entry = key[exposed], y[exposed], entry[exposed]
        weight = None if weight is None else weight[exposed]
    late = np.flatnonzero(entry > 0.0)
    if not late.size:
        return y, weight, segments(key)
    late_key = key[late]
    y_entry = np.log(entry[late]) - centre[late_key]
    # each stratum's entries go after its ends, so an end moves by the entries of earlier strata
    ahead = np.concatenate([[0], np.cumsum(np.bincount(late_key, minlength=centre.size))])
    end_place = np.arange(key.size) + ahead[key]
    entry_place = np.searchsorted(key, late_key, side="right") + np.arange(late.size)
    both, signed = np.empty(key.size + late.size), np.ones(key.size + late.size)
    both_keys = np.empty(both.size, np.intp)
    both[end_place], both[entry_place] = y, y_entry
    both_keys[end_place], both_keys[entry_place] = key, late_key
    if weight is not None:
        signed[end_place] = weight
    signed[entry_place] = -1.0 if weight is None else -weight[late]
    return both, signed, segments(both_keys)


def _columns(
    stratum: ArrayLike, entry: ArrayLike, low: ArrayLike, high: ArrayLike, count: ArrayLike
) -> tuple[Ints, list[Floats]]:
    """Return the columns as arrays of one length."""
    key = np.asarray(stratum, np.intp)
    columns = []
    for name, values in (("entry", entry), ("low", low), ("high", high), ("count", count)):
        column = np.asarray(values, np.float64)
        if column.ndim == 0:
            column = np.full(key.shape, float(column))
        if column.shape != key.shape or key.ndim != 1:
            raise FitError(
                f"lives: {name} must have one value a row ({key.size}), found shape "
                f"{column.shape}. Give columns of one length."
            )
        columns.append(column)
    return key, columns


def _refuse_impossible(key: Ints, entry: Floats, low: Floats, high: Floats, count: Floats) -> None:
    """Raise for the first rule that a row breaks."""
    rules = (
        ("entry must be >= 0 and finite", entry, (entry >= 0.0) & (entry < np.inf)),
        ("low must be >= 0 and finite", low, (low >= 0.0) & (low < np.inf)),
        ("high must not be below low", high, high >= low),
        ("count must be > 0 and finite", count, (count > 0.0) & (count < np.inf)),
        ("a failure must end after 0 and after its entry age; high", high,
         (high > entry) & (high > 0.0) | np.isinf(high)),
    )
    for rule, values, holds in rules:
        if not bool(holds.all()):
            index = int(np.argmin(holds))
            wrong = int(holds.size - np.count_nonzero(holds))
            raise FitError(
                f"lives: {rule}, got {values[index]} at index {index} ({wrong} of {key.size} "
                "rows). Correct or leave out such rows."
            )
