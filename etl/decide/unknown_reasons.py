"""Removals without a reason, shared out between failures and hoses taken out unfailed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

ROUNDS = 3
"""After three rounds the shares move by less than their own error."""


def failed_share(
    failing: Floats, leaving: Floats, n: Floats, n_failed: float, n_unfailed: float
) -> Floats:
    """Return the chance that each removal without a reason was a failure.

    Parameters
    ----------
    failing, leaving : ndarray, shape (n_removals,)
        Hazards at its age, as fitted to the removals with a reason: of failing, and of being taken
        out unfailed.
    n : ndarray, shape (n_removals,)
        Removals that each stands for.
    n_failed, n_unfailed : float
        Removals of the same kind with a reason.

    Returns
    -------
    ndarray, shape (n_removals,)

    Notes
    -----
    p = h / (h + r). Both hazards are raised by what has been shared out to them before the next
    round: with a reason missing as often after either end they keep their ratio; where age says
    that most of the missing ones are of one kind, that kind gains. Assumes that within a kind and
    an age a reason is missing whatever it was.
    """
    more_failing = more_leaving = 1.0
    share = np.zeros(n.shape)
    for _ in range(ROUNDS):
        h, r = more_failing * failing, more_leaving * leaving
        share = np.divide(h, h + r, out=np.full(n.shape, 0.5), where=h + r > 0.0)
        more_failing = 1.0 + float(n @ share) / max(n_failed, 1.0)
        more_leaving = 1.0 + float(n @ (1.0 - share)) / max(n_unfailed, 1.0)
    return share


def failures_factor(share: Floats, n: Floats, n_failed: float) -> float:
    """Return by what a forecast of recorded failures is to be multiplied to be one of all.

    Parameters
    ----------
    share, n : ndarray, shape (n_removals,)
        From, and as for, `failed_share`.
    n_failed : float

    Returns
    -------
    float
        1 without removals that lack a reason.

    Examples
    --------
    >>> import numpy as np
    >>> failures_factor(np.array([0.5]), np.array([20.0]), 100.0)
    1.1
    """
    return 1.0 + float(n @ share) / n_failed if n_failed > 0 else 1.0
