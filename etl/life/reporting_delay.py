"""Failures that happened but are not on record yet: how late records come, and what follows."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from etl.life.cell_law import CellLaw
from etl.life.renewal import DAYS_A_MONTH

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]

WHOLE = 0.995
"""Share of a month's failures on record from which on the rest is not waited for."""
IN_TIME = np.ones(1)
"""Every failure is on record by the end of its month."""


def recorded_share(delay: Ints, watched: Ints, *, most: int) -> Floats:
    """Estimate what share of failures is on record so many months after their own.

    Parameters
    ----------
    delay : ndarray of int, shape (n,)
        Months by which each recorded failure missed the record of its own month; 0: in time.
    watched : ndarray of int, shape (n,)
        Months since its own within which each could have come on record; at least its delay.
    most : int
        Delay by which all are taken as recorded.

    Returns
    -------
    ndarray, shape (k,)
        Share recorded within 0, 1, ... months, ending with the first that is as good as all, which
        is set to 1. ``[1.0]`` where records come in time, or nothing is known of delays.

    Notes
    -----
    Late failures of the last months have not been seen yet, so that delays are truncated on the
    right. Product limit in reverse time: G(j - 1) = G(j) (1 - n_j / N_j), n_j the failures with
    that delay, N_j those with at most that delay that were watched for as long.

    References
    ----------
    Lagakos, S. W., Barraj, L. M. and De Gruttola, V. (1988), Nonparametric analysis of truncated
    survival data, with application to AIDS, Biometrika 75, 515-523 (from memory).
    """
    share = np.ones(most + 1)
    for at in range(most, 0, -1):
        known = (delay <= at) & (watched >= at)
        late = float((delay[known] == at).sum())
        share[at - 1] = share[at] * (1.0 - late / max(float(known.sum()), 1.0))
    share = share[: int(np.argmax(share >= WHOLE)) + 1]
    share[-1] = 1.0
    return share


def exposure_ages(age: Floats, share: Floats) -> tuple[Floats, Floats]:
    """Return the ages up to which hoses in service have surely been seen running, with weights.

    Parameters
    ----------
    age : ndarray, shape (n,), days
        By the record as it stands.
    share : ndarray, shape (k,)
        From `recorded_share`.

    Returns
    -------
    age : ndarray, shape (n, k), days
        Below 0 where the hose was not in service yet.
    weight : ndarray, shape (k,)
        Adding up to 1.

    Notes
    -----
    A failure j months ago would be on record with the share G(j) only; so much of the time in
    service then has been watched.
    """
    months = DAYS_A_MONTH * np.arange(share.size)
    return age[:, None] - months, np.diff(share, prepend=0.0)


def watched_rows(
    entry: Floats, low: Floats, count: Floats, is_open: NDArray[np.bool_], share: Floats
) -> tuple[Ints, Floats, Floats]:
    """Cut lives still running to what has surely been watched of them.

    Parameters
    ----------
    entry, low : ndarray, shape (n,), days
        Ages between which each life is on record.
    count : ndarray, shape (n,)
    is_open : ndarray of bool, shape (n,)
        Still running by the record as it stands.
    share : ndarray, shape (k,)
        From `recorded_share`.

    Returns
    -------
    row : ndarray of int, shape (m,)
        The life that each row is of.
    low : ndarray, shape (m,), days
    count : ndarray, shape (m,)
        Lives that have ended count whole; the others in parts, by how far they were watched.
    """
    if share.size == 1:
        return np.arange(low.size), low, count
    age, weight = exposure_ages(low[is_open], share)
    row = np.flatnonzero(is_open).repeat(weight.size)
    cut, part = age.ravel(), (count[is_open][:, None] * weight).ravel()
    kept, ended = (cut > entry[row]) & (part > 0.0), np.flatnonzero(~is_open)
    return (np.concatenate([ended, row[kept]]), np.concatenate([low[ended], cut[kept]]),
            np.concatenate([count[ended], part[kept]]))


def successor_age(age: Floats, share: Floats) -> Floats:
    """Return the age of the hose put in after a failure that is not on record yet.

    Parameters
    ----------
    age : ndarray, shape (n,), days
        Of the hose that the record has in service.
    share : ndarray, shape (k,), k > 1
        From `recorded_share`.

    Returns
    -------
    ndarray, shape (n,), days
        Mean over the months back in which it may have failed, as if the hazard were the same in
        each; at most that of the hose on record.

    Examples
    --------
    >>> successor_age(np.array([400.0, 3.0]), np.array([0.5, 1.0])).tolist()
    [15.21875, 3.0]
    """
    late = 1.0 - share[:-1]
    months = (late * (np.arange(late.size) + 0.5)).sum() / late.sum()
    return np.asarray(np.minimum(age, DAYS_A_MONTH * months))


def late_chances(
    law: CellLaw, age: Floats, rate: Singles, share: Floats
) -> tuple[Singles, Singles]:
    """Return the chances that the hose which the record has in service is there no more.

    Parameters
    ----------
    law : CellLaw
        With removals by habit, where hoses come out unfailed too: these come on record as late.
    age : ndarray, shape (n,), days
        By the record as it stands.
    rate : ndarray, shape (n, n_draws)
    share : ndarray, shape (k,)
        From `recorded_share`.

    Returns
    -------
    gone, failed : ndarray, shape (n, n_draws)
        Chance that it has come out by now, and that it has failed.

    Notes
    -----
    In each draw and each month j back, the chance of having come out in it times the share
    1 - G(j) not recorded by now, over these and the chance of still running; of those that came
    out in a month, the share of its hazards has failed. A successor that has come out in its turn
    is left out: second order in the hazard over the delay.
    """
    if share.size == 1:
        return np.zeros(rate.shape, np.float32), np.zeros(rate.shape, np.float32)
    back = np.maximum(age[:, None] - DAYS_A_MONTH * np.arange(share.size), 0.0)
    failing = rate[:, :, None] * np.moveaxis(law.cumulative_hazard(back), 2, 1)
    total = failing
    if law.removal is not None:
        total = failing + np.moveaxis(law.removal_hazard(back), 2, 1)
    running = np.exp(total[..., -1:] - total)
    ended = np.diff(running, axis=2) * (1.0 - share[:-1]).astype(np.float32)
    out = ended.sum(axis=2)
    whole = out + running[..., 0]
    gone = out / whole
    if law.removal is None:
        return gone, gone
    passed = np.diff(total, axis=2)
    own = np.divide(np.diff(failing, axis=2), passed, out=np.zeros_like(passed),
                    where=passed < 0.0)
    return gone, (ended * own).sum(axis=2) / whole
