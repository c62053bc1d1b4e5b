"""Survival without any law, where failures are known only as found between two looks."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.standalone import Rows
from etl.life.turnbull import free_survival

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

MAX_ROUNDS = 500
PRECISION = 1e-5
"""Of the search for each fit: by then shares move by less than a figure shows."""


def free_spans(rows: Rows, is_wanted: Bools) -> pd.DataFrame:
    """Return the spans of age that hold the failures of some fits, and their shares.

    Parameters
    ----------
    rows : Rows
    is_wanted : ndarray of bool, shape (n_fits,)

    Returns
    -------
    DataFrame
        fit; start_days, end_days (empty: the share that no failure reached); failed_share;
        survival_before, survival_after the span; is_settled, of the search.

    Notes
    -----
    Within a span nobody knows when the failures came; between spans survival does not change.
    """
    order = np.argsort(rows.stratum, kind="stable")
    ends = np.searchsorted(rows.stratum[order], np.arange(rows.n_strata + 1))
    parts = [pd.DataFrame({"fit": np.zeros(0, np.int64), "is_settled": np.zeros(0, bool)} | {
        name: np.zeros(0) for name in (
            "start_days", "end_days", "failed_share", "survival_before", "survival_after")})]
    for number in np.flatnonzero(is_wanted):
        mine = order[ends[number]:ends[number + 1]]
        found = free_survival(rows.entry[mine], rows.low[mine], rows.high[mine],
                              rows.count[mine], MAX_ROUNDS, PRECISION)
        left = np.clip(1.0 - np.concatenate([[0.0], np.cumsum(found.share)]), 0.0, 1.0)
        parts.append(pd.DataFrame({
            "fit": number, "is_settled": found.is_settled, "start_days": found.start,
            "end_days": found.end, "failed_share": found.share,
            "survival_before": left[:-1], "survival_after": left[1:],
        }))
    return pd.concat(parts, ignore_index=True)
