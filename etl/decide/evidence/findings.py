"""How far the findings of a teardown speak for each mechanism.

A finding is present, absent or not checked. Each carries a weight for the mechanisms it bears on,
a log likelihood ratio; what was not checked moves nothing and only lowers the coverage.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import log_softmax

from etl.errors import InputError

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]
States = NDArray[np.int8]

PRESENT, ABSENT, NOT_CHECKED = 1, -1, 0
SECOND_SHARE = 0.5
"""Part of the second finding of one kind that still counts; a third adds nothing: findings of one
kind tend to come together (ours)."""


@dataclass(frozen=True)
class EvidenceTable:
    """What each finding says of each mechanism.

    Attributes
    ----------
    findings, mechanisms : tuple of str
        Names, of the rows and of the columns.
    kind : ndarray of int, shape (n_findings,)
        Findings of one kind are correlated.
    weight : ndarray, shape (n_findings, n_mechanisms)
        Log likelihood ratio against the average hose; 0 where nothing is said.
    rules_out : ndarray of bool, shape (n_findings, n_findings)
        Findings that cannot be present together: finding one answers the other. Symmetric.
    is_laboratory : ndarray of bool, shape (n_findings,)
        Seen on the fracture in a laboratory.
    effort : ndarray, shape (n_findings,)
        Work of a check, relative to a look at the outside.
    """

    findings: tuple[str, ...]
    mechanisms: tuple[str, ...]
    kind: Ints
    weight: Floats
    rules_out: Bools
    is_laboratory: Bools
    effort: Floats

    def row(self, finding: str) -> int:
        """Return the row of a finding.

        Raises
        ------
        InputError
            The table does not have it.
        """
        if finding not in self.findings:
            raise InputError(f"evidence: no finding {finding!r} in the table of weights. Use one "
                             f"of its {len(self.findings)} findings.")
        return self.findings.index(finding)


def contributions(table: EvidenceTable, states: ArrayLike) -> Floats:
    """Return what each finding adds to the score of each mechanism.

    Parameters
    ----------
    table : EvidenceTable
    states : array_like of int, shape (n_cases, n_findings)
        `PRESENT`, `ABSENT` or `NOT_CHECKED`.

    Returns
    -------
    ndarray, shape (n_cases, n_findings, n_mechanisms)
        Sums over the findings are scores: log posterior but for the prior and a constant.

    Raises
    ------
    InputError
        The states have another shape than the table.

    Notes
    -----
    Of the findings of one kind that speak for a mechanism the strongest counts in full, the
    second with `SECOND_SHARE`, the others not at all; likewise of those that speak against it.
    Absence adds nothing: nobody knows how often a finding is missed. The rule is ours.
    """
    seen = np.asarray(states) == PRESENT
    if seen.ndim != 2 or seen.shape[1] != len(table.findings):
        raise InputError(f"evidence: states must have {len(table.findings)} columns, one a "
                         f"finding; found shape {seen.shape}.")
    present = np.where(seen[:, :, None], table.weight, 0.0)
    share = np.zeros_like(present)
    for kind in np.unique(table.kind):
        rows = np.flatnonzero(table.kind == kind)
        for part in (present[:, rows], -present[:, rows]):
            share[:, rows] += _share(np.maximum(part, 0.0))
    return present * share


def _share(part: Floats) -> Floats:
    """Return 1 for the largest positive entry along axis 1, `SECOND_SHARE` for the next."""
    order = np.argsort(-part, axis=1, kind="stable")
    share = np.zeros_like(part)
    for nth, value in enumerate((1.0, SECOND_SHARE)[:part.shape[1]]):
        np.put_along_axis(share, order[:, nth:nth + 1], value, axis=1)
    return np.where(part > 0.0, share, 0.0)


def posterior(scores: ArrayLike, log_prior: ArrayLike) -> Floats:
    """Return the probability of each mechanism.

    Parameters
    ----------
    scores : array_like, shape (n_cases, n_mechanisms)
    log_prior : array_like, shape (n_mechanisms,) or (n_cases, n_mechanisms)
        Up to a constant.

    Returns
    -------
    ndarray, shape (n_cases, n_mechanisms)
        Rows add up to 1.
    """
    total = np.asarray(scores, np.float64) + np.asarray(log_prior, np.float64)
    return np.asarray(np.exp(log_softmax(total, axis=1)))


def log_site_prior(n_confirmed: ArrayLike) -> Floats:
    """Return the log prior from confirmed mechanisms of the fleet, one added to each count.

    Parameters
    ----------
    n_confirmed : array_like, shape (n_mechanisms,)
        Confirmed teardowns of each mechanism; without any the prior is flat.

    Examples
    --------
    >>> np.exp(log_site_prior([0, 0])), np.exp(log_site_prior([7, 1]))
    (array([0.5, 0.5]), array([0.8, 0.2]))
    """
    counts = np.asarray(n_confirmed, np.float64) + 1.0
    return np.asarray(np.log(counts / counts.sum()))


def answered(table: EvidenceTable, states: ArrayLike) -> Bools:
    """Return which findings were checked, or are ruled out by one that is present.

    Returns
    -------
    ndarray of bool, shape (n_cases, n_findings)
    """
    given = np.asarray(states)
    by_others = (given == PRESENT).astype(np.int64) @ table.rules_out.astype(np.int64) > 0
    return np.asarray((given != NOT_CHECKED) | by_others)


def coverage(table: EvidenceTable, states: ArrayLike) -> Floats:
    """Return which share of what bears on each mechanism was answered.

    Returns
    -------
    ndarray, shape (n_cases, n_mechanisms)
        The table asks more about some mechanisms than about others, so coverage is told for each.
    """
    links = (table.weight != 0.0).astype(np.float64)
    return np.asarray(answered(table, states) @ links / np.maximum(links.sum(axis=0), 1.0))


def with_prevalence_cap(
    table: EvidenceTable, n_present: ArrayLike, n_looked_for: ArrayLike
) -> EvidenceTable:
    """Return the table with weights that no common finding can carry taken down.

    Parameters
    ----------
    table : EvidenceTable
    n_present, n_looked_for : array_like of int, shape (n_findings,)
        How often each finding was seen in the fleet's teardowns, and how often looked for,
        whatever the mechanism turned out to be.

    Returns
    -------
    EvidenceTable

    Notes
    -----
    A finding that a share q of all hoses shows cannot be more than 1/q times as likely under one
    mechanism as on the average hose: where every machine shakes, shaking says little. q is
    (present + 1) / (looked for + 10). Findings that speak against a mechanism are left alone.
    """
    share = (np.asarray(n_present, np.float64) + 1.0) / (np.asarray(n_looked_for, np.float64) + 10)
    limit = -np.log(np.minimum(share, 1.0))
    return replace(table, weight=np.minimum(table.weight, limit[:, None]))
