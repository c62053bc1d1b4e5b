"""What to look at next in a teardown: the check that is expected to tell most."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from etl.decide.evidence.findings import EvidenceTable, answered

Floats = NDArray[np.float64]

BASE_RATE = 0.12
"""Share of average hoses that show a finding (our judgement)."""
LEAST_CHANCE, MOST_CHANCE = 0.01, 0.90
"""No finding is taken to be rarer than the one or surer than the other under any mechanism."""
POWER = 0.8
"""Damping of an answer: it is partly known already from findings that come with it (ours)."""


def expected_information(
    table: EvidenceTable, states: ArrayLike, probability: ArrayLike
) -> Floats:
    """Return by how much each check is expected to lessen the doubt between mechanisms.

    Parameters
    ----------
    table : EvidenceTable
    states : array_like of int, shape (n_findings,)
    probability : array_like, shape (n_mechanisms,)
        Present probability of each mechanism.

    Returns
    -------
    ndarray, shape (n_findings,), nats
        Expected fall of the entropy; 0 for a finding that is answered already.

    Notes
    -----
    P(present | mechanism) = `BASE_RATE` exp(weight), held between `LEAST_CHANCE` and
    `MOST_CHANCE`. Both answers count, although an absent finding moves no score: it still closes
    a question. Own scheme; entropy and its expected fall after Shannon (1948), from memory.
    """
    p = np.asarray(probability, np.float64)
    chance = np.clip(BASE_RATE * np.exp(table.weight), LEAST_CHANCE, MOST_CHANCE)
    yes = chance @ p
    gain = (_entropy(p[None, :]) - yes * _entropy(_updated(p, chance))
            - (1.0 - yes) * _entropy(_updated(p, 1.0 - chance)))
    return np.where(answered(table, np.asarray(states)[None, :])[0], 0.0, np.maximum(gain, 0.0))


def next_checks(
    table: EvidenceTable, states: ArrayLike, probability: ArrayLike, n: int = 3,
    *, per_effort: bool = True,
) -> list[int]:
    """Return the findings to look for next, the most telling for its effort first.

    Parameters
    ----------
    table, states, probability
        As in `expected_information`.
    n : int
        Longest list.
    per_effort : bool
        Divide what a check tells by the effort it takes.

    Returns
    -------
    list of int
        Rows of the table; shorter where little is left to ask.
    """
    gain = expected_information(table, states, probability)
    worth = gain / table.effort if per_effort else gain
    order = np.argsort(-worth, kind="stable")
    return [int(row) for row in order[:n] if gain[row] > 0.0]


def _updated(p: Floats, chance: Floats) -> Floats:
    """Return the damped posteriors after one answer, a row a finding."""
    raised = p * chance ** POWER
    return np.asarray(raised / raised.sum(axis=1, keepdims=True))


def _entropy(p: Floats) -> Floats:
    return np.asarray(-(p * np.log(np.maximum(p, 1e-300))).sum(axis=1))
