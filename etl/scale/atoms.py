"""Sums over the lives of an atom: a site, an application class and a construction."""

from __future__ import annotations

import math
from dataclasses import dataclass

import duckdb
import numpy as np
from numpy.typing import NDArray

from etl.build.lives import UNKNOWN
from etl.life.curves import Curves, exposure_curves
from etl.life.reporting_delay import watched_rows
from etl.scale.partitions import Partition

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

ROWS = """
select list_position($constructions, coalesce(construction, 'unknown')) - 1 as cell,
    case when kind = 'suspended' then -1 else list_position($mechanisms, mechanism) - 1 end
        as mechanism,
    entry_age_days as entry, age_low_days as low,
    case when kind = 'suspended' then 'infinity'::double else age_high_days end as high,
    kind = 'suspended' and not is_open as is_removed, is_open, count(*)::double as n
from lives
where is_fitted
group by all
order by all
"""


@dataclass(frozen=True)
class Atom:
    """What the fleet needs to know of the lives of an atom.

    Attributes
    ----------
    site, application_class, construction : str
    curve : Curves
        One cell; failures between two looks exposed to the middle, hoses in service as far as a
        removal would be on record.
    removal_curve : Curves
        The same, exposed to where they were last seen good; the same object where there are none.
    n_lives, n_failures, n_suspensions, longest : float
        ``longest`` is the oldest age known to have been reached, days.
    n_removed, sum_log_removed : float
        Hoses taken out unfailed, and their summed log ages.
    known : tuple of (str, float, float)
        Mechanism, failures at a known age, their summed log ages.
    masked : tuple of ndarray
        Ages of failures of unknown mechanism, and how many at each.
    between : tuple of (str, ndarray)
        Mechanism, and columns low, high, count of failures between two looks.
    """

    site: str
    application_class: str
    construction: str
    curve: Curves
    removal_curve: Curves
    n_lives: float
    n_failures: float
    n_suspensions: float
    longest: float
    n_removed: float
    sum_log_removed: float
    known: tuple[tuple[str, float, float], ...]
    masked: tuple[Floats, Floats]
    between: tuple[tuple[str, Floats], ...]

    @property
    def cell(self) -> tuple[str, str]:
        """Application class and construction."""
        return self.application_class, self.construction


def constructions_of(con: duckdb.DuckDBPyConnection) -> list[str]:
    """Return the constructions of a partition, fitted or not, sorted."""
    return [row[0] for row in con.execute(
        "select distinct coalesce(construction, 'unknown') from lives order by 1").fetchall()]


def summarise(partition: Partition) -> list[Atom]:
    """Return the sums of all atoms of a partition, in order of construction.

    Parameters
    ----------
    partition : Partition

    Returns
    -------
    list of Atom

    Raises
    ------
    InputError
        The partition cannot be read, or is not as listed.
    """
    con = partition.open()
    try:
        constructions = constructions_of(con)
        mechanisms = [row[0] for row in con.execute(
            "select distinct mechanism from lives where mechanism is not null order by 1"
        ).fetchall()]
        rows = con.execute(ROWS, {"constructions": constructions, "mechanisms": mechanisms}
                           ).fetchnumpy()
    except (duckdb.Error, OSError) as exc:
        raise partition.fault(exc) from exc
    finally:
        con.close()
    columns = {key: np.asarray(values, np.float64) for key, values in rows.items()}
    borders = np.searchsorted(columns["cell"], np.arange(len(constructions) + 1))
    return [
        _atom(partition, name, mechanisms,
              {key: values[borders[cell]:borders[cell + 1]] for key, values in columns.items()})
        for cell, name in enumerate(constructions)
    ]


def _atom(
    partition: Partition, construction: str, mechanisms: list[str], rows: dict[str, Floats]
) -> Atom:
    """Sum the lives of one atom, by itself and in the order of their contents."""
    entry, low, high, n = (rows[name] for name in ("entry", "low", "high", "n"))
    mechanism, is_removed = rows["mechanism"].astype(np.int64), rows["is_removed"] > 0.0
    failed = np.isfinite(high)
    between = failed & (low < high)
    row, end, weight = watched_rows(entry, low, n, rows["is_open"] > 0.0, partition.share)
    cell, begin = np.zeros(row.size, np.int64), entry[row]
    to = np.where(failed, high, 0.0)[row]
    curve = exposure_curves(cell, np.where(between[row], 0.5 * (end + to), end), begin, weight, 1)
    is_masked = failed & ~between & np.isin(
        mechanism, [code for code, name in enumerate(mechanisms) if name == UNKNOWN])
    exact = failed & ~between & ~is_masked
    return Atom(
        partition.site, partition.application_class, construction, curve,
        exposure_curves(cell, np.maximum(end, begin), begin, weight, 1) if between.any() else curve,
        float(n.sum()), float(n[failed].sum()), float(n[~failed].sum()),
        float(low.max(initial=0.0)),
        float(n[is_removed].sum()), _sum_log(low, n, is_removed),
        tuple((mechanisms[code], float(n[mine].sum()), _sum_log(low, n, mine))
              for code in np.unique(mechanism[exact])
              for mine in [exact & (mechanism == code)]),
        _alike(low[is_masked], n[is_masked]),
        tuple((mechanisms[code], np.stack([low[mine], high[mine], n[mine]]))
              for code in np.unique(mechanism[between])
              for mine in [between & (mechanism == code)]),
    )


def _sum_log(age: Floats, n: Floats, mine: NDArray[np.bool_]) -> float:
    """Sum the logs of some ages, rounded once: whatever the order, the same sum."""
    return math.fsum(n[mine] * np.log(age[mine]))


def _alike(age: Floats, n: Floats) -> tuple[Floats, Floats]:
    """Return the ages that occur and how often."""
    ages, inverse = np.unique(age, return_inverse=True)
    return ages, np.bincount(inverse.ravel(), n, ages.size).astype(np.float64)
