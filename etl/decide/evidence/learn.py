"""What a fleet's own confirmed teardowns teach, and whether they may be learnt from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_softmax
from scipy.stats import chi2

from etl.decide.evidence.findings import (
    ABSENT,
    NOT_CHECKED,
    PRESENT,
    EvidenceTable,
    log_site_prior,
)
from etl.decide.words import percent

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
States = NDArray[np.int8]

LEAST_CONFIRMED = 20
"""Confirmed teardowns below which nothing is learnt but how common each mechanism is."""
PSEUDO_CHECKS = (3.0, 10.0, 30.0, 100.0, 200.0)
TEMPERATURES = (0.35, 0.5, 0.7, 0.85, 1.0)
"""Choices of trust in the table and of damping, of which leaving one out picks a pair."""
RAREST, COMMONEST = 0.005, 0.95
HABIT_LEVEL = 0.01
MOST_HABIT = 0.10
"""Share of findings whose checking may depend on the mechanism beyond chance."""
MOST_PRESENT = 0.30
"""Share of checks that may find something; above it only what is seen is written down."""


@dataclass(frozen=True)
class CheckingHabit:
    """Whether findings were looked for whatever the suspicion.

    Attributes
    ----------
    dependent_share : float
        Share of the testable findings whose rate of checking differs between mechanisms.
    present_share : float
        Share of all checks that found something; NaN without a check.
    is_checklist : bool
        Absence may be used and weights may be learnt.
    words : str
        The verdict with its figures.
    """

    dependent_share: float
    present_share: float
    is_checklist: bool
    words: str


def checking_habit(states: States, confirmed: Ints, n_mechanisms: int) -> CheckingHabit:
    """Return whether the records of confirmed teardowns look like a checklist.

    Parameters
    ----------
    states : ndarray of int, shape (n_cases, n_findings)
    confirmed : ndarray of int, shape (n_cases,)
        Mechanism concluded by a person.
    n_mechanisms : int

    Returns
    -------
    CheckingHabit

    Notes
    -----
    Chi-square test, per finding, of its rate of checking against the mechanism. Looked for only
    when suspected, a finding's absence says what the examiner thought, not what the hose was.
    """
    checked = states != NOT_CHECKED
    n_checked = int(checked.sum())
    present = float((states == PRESENT).sum() / n_checked) if n_checked else float("nan")
    dependent = _dependent_share(checked, confirmed, n_mechanisms)
    reasons = []
    if dependent > MOST_HABIT:
        reasons.append(f"whether {percent(dependent)} of the findings were checked depends on the "
                       "mechanism concluded")
    if not present <= MOST_PRESENT:
        reasons.append("hardly anything is recorded as absent" if n_checked else "nothing checked")
    words = "; ".join(reasons) or "findings were checked whatever the mechanism"
    return CheckingHabit(dependent, present, not reasons, words)


def _dependent_share(checked: NDArray[np.bool_], confirmed: Ints, n_mechanisms: int) -> float:
    """Return the share of findings whose checking depends on the mechanism at `HABIT_LEVEL`."""
    size = np.bincount(confirmed, minlength=n_mechanisms).astype(np.float64)
    used = size > 0
    done = np.zeros((n_mechanisms, checked.shape[1]))
    np.add.at(done, confirmed, checked.astype(np.float64))
    done, size = done[used], size[used]
    if len(size) < 2:
        return 0.0
    rate = done.sum(axis=0) / size.sum()
    testable = (rate > 0.0) & (rate < 1.0)
    if not testable.any():
        return 0.0
    done, rate = done[:, testable], rate[testable]
    variance = size[:, None] * rate * (1.0 - rate)
    statistic = ((done - size[:, None] * rate) ** 2 / variance).sum(axis=0)
    return float(np.mean(chi2.sf(statistic, len(size) - 1) < HABIT_LEVEL))


def times_looked_for(states: States) -> Ints:
    """Return how often each finding was looked for.

    Parameters
    ----------
    states : ndarray of int, shape (n_cases, n_findings)

    Returns
    -------
    ndarray of int, shape (n_findings,)
        The checks on record; all teardowns where only what is seen gets written down, because
        then the checks on record are no sample of what was looked for.
    """
    checked = (states != NOT_CHECKED).sum(axis=0)
    n_present, n_checked = int((states == PRESENT).sum()), int(checked.sum())
    if n_present > MOST_PRESENT * n_checked:
        return np.full(states.shape[1], states.shape[0], np.intp)
    return np.asarray(checked, np.intp)


@dataclass(frozen=True)
class LearntWeights:
    """Log probabilities of findings under each mechanism, from the table and confirmed cases.

    Attributes
    ----------
    if_present, if_absent : ndarray, shape (n_findings, n_mechanisms)
        What a finding, or its absence, adds to the score.
    pseudo_checks, temperature : float
        The choice made by leaving one case out.
    log_score : float
        Mean log probability of the confirmed mechanism, each case judged without itself.
    """

    if_present: Floats
    if_absent: Floats
    pseudo_checks: float
    temperature: float
    log_score: float

    def contributions(self, states: States) -> Floats:
        """Return what each finding adds to each score, shape (n_cases, n_findings, n_mechanisms).

        Measured from the mean over mechanisms, so that the sign tells for or against.
        """
        both = []
        for state, value in ((PRESENT, self.if_present), (ABSENT, self.if_absent)):
            centred = value - value.mean(axis=1, keepdims=True)
            both.append((states == state)[:, :, None] * centred)
        return np.asarray(both[0] + both[1])


def learn_weights(table: EvidenceTable, states: States, confirmed: Ints) -> LearntWeights:
    """Learn how often each finding is seen under each mechanism from confirmed teardowns.

    Parameters
    ----------
    table : EvidenceTable
        Its weights are the starting point.
    states : ndarray of int, shape (n_cases, n_findings)
        Made with a checklist, see `checking_habit`: absence is used.
    confirmed : ndarray of int, shape (n_cases,)

    Returns
    -------
    LearntWeights

    Notes
    -----
    P(finding | mechanism) starts at prevalence times exp(weight), worth `pseudo_checks` checks,
    and is updated by the counts. The sum of log probabilities over present and absent findings is
    damped by a temperature, since findings come together. Both are chosen by the log score of
    each case with its own counts taken out. Own scheme.
    """
    counts = _Counts.of(table, states, confirmed)
    prior = _prior_without_own(counts.size, confirmed)
    best: LearntWeights | None = None
    for checks in PSEUDO_CHECKS:
        chance = counts.chance(checks)
        raw = counts.scores_without_own(states, confirmed, checks)
        for temperature in TEMPERATURES:
            score = _log_score(temperature * raw + prior, confirmed)
            if best is None or score > best.log_score:
                best = LearntWeights(
                    temperature * np.log(chance), temperature * np.log1p(-chance), checks,
                    temperature, score)
    assert best is not None
    return best


def site_log_score(scores: Floats, confirmed: Ints) -> float:
    """Return the mean log probability of the confirmed mechanism under the site's prior.

    Parameters
    ----------
    scores : ndarray, shape (n_cases, n_mechanisms)
        From the table of weights.
    confirmed : ndarray of int, shape (n_cases,)

    Returns
    -------
    float
        Each case judged with its own count taken out of the prior.
    """
    size = np.bincount(confirmed, minlength=scores.shape[1]).astype(np.float64)
    return _log_score(scores + _prior_without_own(size, confirmed), confirmed)


def _prior_without_own(size: Floats, confirmed: Ints) -> Floats:
    """Return the site prior of each case as if the case were not there."""
    own = np.eye(size.size)[confirmed]
    return np.stack([log_site_prior(row) for row in size - own])


@dataclass(frozen=True)
class _Counts:
    """Checks and sights of each finding under each mechanism."""

    present: Floats
    checked: Floats
    base: Floats
    size: Floats

    @classmethod
    def of(cls, table: EvidenceTable, states: States, confirmed: Ints) -> _Counts:
        label = np.eye(len(table.mechanisms))[confirmed]
        present = (states == PRESENT).T.astype(np.float64) @ label
        checked = (states != NOT_CHECKED).T.astype(np.float64) @ label
        prevalence = (present.sum(axis=1) + 1.0) / (checked.sum(axis=1) + 10.0)
        base = np.clip(prevalence[:, None] * np.exp(table.weight), RAREST, COMMONEST)
        return cls(present, checked, base, label.sum(axis=0))

    def chance(self, checks: float) -> Floats:
        """Return P(finding | mechanism)."""
        value = (checks * self.base + self.present) / (checks + self.checked)
        return np.asarray(np.clip(value, RAREST, COMMONEST))

    def scores_without_own(self, states: States, confirmed: Ints, checks: float) -> Floats:
        """Return each case's log likelihoods, its own counts left out of its own mechanism's."""
        seen = (states == PRESENT).astype(np.float64)
        gone = (states == ABSENT).astype(np.float64)
        chance = self.chance(checks)
        scores = seen @ np.log(chance) + gone @ np.log1p(-chance)
        own = (checks * self.base.T[confirmed] + self.present.T[confirmed] - seen) / (
            checks + self.checked.T[confirmed] - seen - gone)
        own = np.clip(own, RAREST, COMMONEST)
        of_own = (seen * np.log(own) + gone * np.log1p(-own)).sum(axis=1)
        scores[np.arange(confirmed.size), confirmed] = of_own
        return np.asarray(scores)


def _log_score(scores: Floats, confirmed: Ints) -> float:
    total = log_softmax(scores, axis=1)
    return float(total[np.arange(confirmed.size), confirmed].mean())
