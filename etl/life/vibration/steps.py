"""Newton steps that survive a matrix that is not positive."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from etl.errors import FitError

Floats = NDArray[np.float64]


def newton_step(matrix: Floats, slope: Floats) -> Floats | None:
    """Return the step to the top of a parabola.

    Parameters
    ----------
    matrix : ndarray, shape (n, n)
        Negative second derivatives.
    slope : ndarray, shape (n,)

    Returns
    -------
    ndarray or None
        None where the matrix is not positive.
    """
    scale = np.sqrt(np.maximum(np.abs(np.diag(matrix)), 1e-12))
    try:
        factor = np.linalg.cholesky(matrix / np.outer(scale, scale))
    except np.linalg.LinAlgError:
        return None
    inner = np.linalg.solve(factor, slope / scale)
    return np.asarray(np.linalg.solve(factor.T, inner) / scale)


def damped_step(matrix: Floats, slope: Floats) -> Floats:
    """Return a step along a matrix that is made positive where it is not (Levenberg 1944).

    Raises
    ------
    FitError
        The matrix holds something that is no number.
    """
    size = np.abs(np.diag(matrix))
    for add in (0.0, 1e-3, 1e-2, 1e-1, 1.0, 10.0):
        step = newton_step(matrix + add * np.diag(size), slope)
        if step is not None:
            return step
    raise FitError("vibration: the second derivatives are not finite. Look for ages far out.")
