"""What the forecast of failures at each place would be, had more of the removals been failures."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
HALF = 0.5
"""Added to both counts of a class, so that one without a failure has a ratio too."""


def forecast_factor(
    seen: Floats, expected: Floats, more_seen: Floats, more_expected: Floats,
    kind: NDArray[np.int64], concentration: float,
) -> Floats:
    """Return by what the expected failures of each place are multiplied under another reading.

    Parameters
    ----------
    seen, expected : ndarray, shape (n_places,)
        Failures so far, and those expected of like places, as the logs are read.
    more_seen, more_expected : ndarray, shape (n_places,)
        What the other reading adds: failures, and cumulative hazard by the law as read.
    kind : ndarray of int, shape (n_places,)
        Application class.
    concentration : float
        Of the gamma law between places; infinite where places do not differ.

    Returns
    -------
    ndarray, shape (n_places,)
        Without refitting: the hazard of a class moves with its failures over its exposure, that
        of a place with its own count against its class, shrunk as in the ranking.

    Examples
    --------
    >>> import numpy as np
    >>> none, one = np.zeros(2), np.ones(2)
    >>> forecast_factor(one, one, none, none, np.zeros(2, int), 2.0).tolist()
    [1.0, 1.0]
    """
    n = int(kind.max()) + 1 if kind.size else 0
    counts = [np.bincount(kind, values, n) for values in (seen, expected, more_seen, more_expected)]
    with np.errstate(divide="ignore", invalid="ignore"):
        exposure = np.where(counts[1] > 0.0, 1.0 + counts[3] / counts[1], 1.0)
    level = ((counts[0] + counts[2] + HALF) / (counts[0] + HALF) / exposure)[kind]
    if np.isinf(concentration):
        return np.asarray(level)
    before = (concentration + seen) / (concentration + expected)
    after = (concentration + seen + more_seen) / (
        concentration + (expected + more_expected) * level)
    return np.asarray(level * after / before)
