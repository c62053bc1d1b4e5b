"""Sums of products of derivatives, most of them nought."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Rows:
    """Rows of derivatives: a few entries among many columns, and some columns filled throughout."""

    def __init__(self, index: Ints, value: Floats, dense: Floats, width: int) -> None:
        """Hold rows.

        Parameters
        ----------
        index, value : ndarray, shape (n, n_entries)
            Columns and values of the few.
        dense : ndarray, shape (n, n_dense)
        width : int
            Number of the many columns.
        """
        n, per = index.shape
        self.matrix = sparse.csr_matrix(
            (value.ravel(), index.ravel(), np.arange(0, n * per + 1, per)), shape=(n, width))
        self.dense, self.width = dense, width

    def summed(self, at: Ints, n: int, dense: Floats) -> Rows:
        """Return rows added up by their number.

        Parameters
        ----------
        at : ndarray of int, shape (n_rows,)
        n : int
            Rows afterwards.
        dense : ndarray, shape (n, n_dense)
            The filled columns, added up already.
        """
        found = Rows.__new__(Rows)
        gather = sparse.csr_matrix(
            (np.ones(at.size), at, np.arange(at.size + 1)), shape=(at.size, n))
        found.matrix = (gather.T @ self.matrix).tocsr()
        found.dense, found.width = dense, self.width
        return found


def gram(left: Rows, right: Rows, weight: Floats) -> Floats:
    """Return the sum over rows of weight times left times right.

    Parameters
    ----------
    left, right : Rows
        Of equal length.
    weight : ndarray, shape (n,)

    Returns
    -------
    ndarray, shape (left width + dense, right width + dense)
    """
    scaled = sparse.diags_array(weight) @ right.matrix
    wide = right.dense * weight[:, None]
    top = np.hstack([(left.matrix.T @ scaled).toarray(), np.asarray(left.matrix.T @ wide)])
    low = np.hstack([np.asarray((scaled.T @ left.dense).T), left.dense.T @ wide])
    return np.asarray(np.vstack([top, low]), np.float64)
