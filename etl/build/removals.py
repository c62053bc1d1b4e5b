"""How hoses come out unfailed: as planned, or for another reason that is no failure."""

from __future__ import annotations

import duckdb
import numpy as np
from numpy.typing import NDArray

from etl.build.lives import Lives
from etl.life.fit import fit_strata
from etl.life.reporting_delay import IN_TIME, watched_rows

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEAST_REMOVALS = 5
"""Below these in a class its hoses are taken to come out as those of all such classes do."""

Removal = tuple[float, float] | None
"""Shape and log characteristic life, days; None where hoses stay until they fail."""


def removal_laws(
    con: duckdb.DuckDBPyConnection, lives: Lives, share: Floats = IN_TIME
) -> list[Removal]:
    """Estimate by application class when hoses are taken out that have not failed.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds ``fit.removals``.
    lives : Lives
    share : ndarray, shape (k,)
        Of a month's removals on record 0, 1, ... months later.

    Returns
    -------
    list of Removal, one a cell

    Notes
    -----
    A Weibull law by maximum likelihood on the ages of the hoses, failures and hoses in service
    being suspensions: what a site does by habit, whatever its reasons. Classes with few such
    removals share one law.
    """
    frame = con.execute("select * from fit.removals order by all").fetchnumpy()
    entry, low, count = (np.asarray(frame[name], np.float64) for name in ("entry", "low", "n"))
    row, low, count = watched_rows(entry, low, count, np.asarray(frame["is_open"], bool), share)
    entry, is_removed = entry[row], np.asarray(frame["is_removed"], bool)[row]
    kind = lives.cell_class[np.asarray(frame["cell"], np.int64)[row]]
    seen = np.bincount(kind, weights=count * is_removed, minlength=len(lives.classes))
    group = removal_groups(seen)
    rows = is_removed | (low > entry)
    fit = fit_strata(group[kind][rows], entry[rows], low[rows],
                     np.where(is_removed, low, np.inf)[rows], count[rows], seen.size + 1)
    laws = laws_of(fit.shape, fit.characteristic_life, fit.has_estimate, fit.n_failures)
    return [laws[group[code]] for code in lives.cell_class]


def removal_groups(n_removed: Floats | Ints) -> Ints:
    """Return the group of each class that shares a law: its own, or the last for all with few."""
    return np.where(n_removed >= LEAST_REMOVALS, np.arange(n_removed.size), n_removed.size)


def laws_of(
    shape: Floats, life: Floats, is_known: NDArray[np.bool_],
    n_removed: Floats,
) -> list[Removal]:
    """Return the law of each group, None where too few removals make one."""
    return [
        (float(b), float(np.log(eta))) if known and n >= LEAST_REMOVALS else None
        for b, eta, known, n in zip(shape, life, is_known, n_removed, strict=True)]
