"""How many removals without a reason were failures, and how many more failures lie ahead then."""

from __future__ import annotations

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.removals import Removal
from etl.build.replacement_ages import N_DRAWS, law_of
from etl.build.statistics import LifeStatistics
from etl.decide.unknown_reasons import failed_share, failures_factor

Floats = NDArray[np.float64]

STEP_DAYS = 15.0
"""Hazards are read as differences of the cumulative ones over so many days to either side."""

COLUMNS = {
    "application_class": "str", "n_failed": "float64", "n_unfailed": "float64",
    "n_unknown": "float64", "n_unknown_failed": "float64", "failures_factor": "float64"}
"""Columns of the answer, which has them without a class as well."""


def unknown_reasons(
    con: duckdb.DuckDBPyConnection, found: LifeStatistics, removals: list[Removal]
) -> pd.DataFrame:
    """Share out the removals without a reason, class by class.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds ``fit.unknown_removals``.
    found : LifeStatistics
    removals : list of Removal, one a cell
        Of all hoses taken out that are not known to have failed.

    Returns
    -------
    DataFrame
        One row an application class: n_failed, n_unfailed, n_unknown, n_unknown_failed (expected
        number) and failures_factor.
    """
    frame = con.execute("select * from fit.unknown_removals order by cell, age").df()
    kind = found.lives.cell_class[frame["cell"].to_numpy(np.int64)]
    rows = []
    for number, name in enumerate(found.lives.classes):
        mine = frame[kind == number]
        failed, unfailed = float(mine["n_failed"].sum()), float(mine["n_unfailed"].sum())
        missing = mine[mine["n"] > 0]
        n = missing["n"].to_numpy(np.float64)
        share = np.zeros(0)
        if n.size:
            failing, leaving = _hazards(found, removals, missing)
            # The law of removals holds those without a reason as well.
            stated = unfailed / (unfailed + n.sum())
            share = failed_share(failing, leaving * stated, n, failed, unfailed)
        rows.append({
            "application_class": name, "n_failed": failed, "n_unfailed": unfailed,
            "n_unknown": n.sum(), "n_unknown_failed": float(n @ share),
            "failures_factor": failures_factor(share, n, failed)})
    return pd.DataFrame(rows, columns=list(COLUMNS)).astype(COLUMNS)


def _hazards(
    found: LifeStatistics, removals: list[Removal], missing: pd.DataFrame
) -> tuple[Floats, Floats]:
    """Return the hazards of failing and of being taken out at the ages of some removals."""
    failing, leaving = np.zeros(len(missing)), np.zeros(len(missing))
    cell, age = missing["cell"].to_numpy(np.int64), missing["age"].to_numpy(np.float64)
    step = max(1, found.draws.log_shape.shape[0] // N_DRAWS)
    for number in np.unique(cell):
        mine = cell == number
        law = law_of(found, int(number), step)
        ends = np.stack([np.maximum(age[mine] - STEP_DAYS, 0.0), age[mine] + STEP_DAYS], axis=1)
        failing[mine] = np.diff(law.cumulative_hazard(ends), axis=1).mean(axis=(1, 2))
        if removals[number] is not None:
            law = type(law)(law.shape, law.log_life, removal=removals[number])
            leaving[mine] = np.diff(law.removal_hazard(ends), axis=1)[:, 0, 0]
    return failing, leaving
