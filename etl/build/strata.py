"""Which strata are estimated: the mechanisms concluded in an application class, in each cell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.build.lives import UNKNOWN, Lives, sums

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Strata:
    """Strata in order of cell, then mechanism.

    Attributes
    ----------
    cell : ndarray of int, shape (n_strata,)
    mechanism : ndarray of int, shape (n_strata,)
        Code into `names`.
    names : tuple of str
        Mechanisms; the last is ``unknown``, which stands alone in classes where no mechanism was
        ever concluded, and is no stratum anywhere else.
    """

    cell: Ints
    mechanism: Ints
    names: tuple[str, ...]

    @property
    def n_strata(self) -> int:
        """Number of strata."""
        return int(self.cell.size)

    def number(self, n_cells: int) -> Ints:
        """Return the stratum of each cell and mechanism, -1 where there is none.

        Returns
        -------
        ndarray of int, shape (n_cells, n_mechanisms)
        """
        table = np.full((n_cells, len(self.names)), -1, np.int64)
        table[self.cell, self.mechanism] = np.arange(self.n_strata)
        return table


def strata_of(lives: Lives) -> Strata:
    """List the strata of a fleet.

    Parameters
    ----------
    lives : Lives

    Returns
    -------
    Strata

    Notes
    -----
    A mechanism that was never concluded in an application class gets no stratum there: its
    hazard would be made of nothing but the model. A failure of unknown mechanism is shared out
    among the strata of its cell.
    """
    names = (*lives.mechanisms, UNKNOWN)
    seen = np.zeros((len(lives.classes), len(names)), bool)
    known = lives.mechanism >= 0
    seen[lives.cell_class[lives.cell[known]], lives.mechanism[known]] = True
    seen[~seen.any(axis=1), -1] = True
    cell, mechanism = np.nonzero(seen[lives.cell_class])
    return Strata(cell.astype(np.int64), mechanism.astype(np.int64), names)


@dataclass(frozen=True)
class Failures:
    """Failures sorted into what each stratum knows of them.

    Attributes
    ----------
    n_exact, sum_log_age : ndarray, shape (n_strata,)
        Count and summed log age of failures of known mechanism at a known age.
    masked_cell, masked_age, masked_count : ndarray, shape (n_masked,)
        Failures at a known age whose mechanism is unknown.
    interval_stratum, interval_cell, interval_low, interval_high, interval_count : ndarray
        Failures between two looks; stratum -1 where the mechanism is unknown.
    """

    n_exact: Floats
    sum_log_age: Floats
    masked_cell: Ints
    masked_age: Floats
    masked_count: Floats
    interval_stratum: Ints
    interval_cell: Ints
    interval_low: Floats
    interval_high: Floats
    interval_count: Floats


def failures_of(lives: Lives, strata: Strata) -> Failures:
    """Sort the failures of a fleet into its strata.

    Parameters
    ----------
    lives : Lives
    strata : Strata

    Returns
    -------
    Failures
        A failure of unknown mechanism in a class whose only stratum is ``unknown`` belongs to it.
    """
    number = strata.number(lives.n_cells)
    only = number[:, -1]  # the class has nothing but its unknown stratum
    stratum = np.where(
        lives.mechanism >= 0, number[lives.cell, np.maximum(lives.mechanism, 0)], only[lives.cell]
    )
    exact, known = lives.is_exact, stratum >= 0
    one = exact & known
    masked = exact & ~known
    between = lives.is_failure & ~exact
    log_age = np.log(np.where(one, lives.low, 1.0))
    k = strata.n_strata
    return Failures(
        sums(stratum[one], lives.count[one], k),
        sums(stratum[one], (lives.count * log_age)[one], k),
        lives.cell[masked], lives.low[masked], lives.count[masked],
        stratum[between], lives.cell[between], lives.low[between], lives.high[between],
        lives.count[between],
    )
