"""What each teardown suggests: findings to posteriors, and mechanisms that failures then count as.

Runs before the lives are fitted, since a failure whose mechanism nobody wrote down may count under
the one that its teardown shows.
"""

from __future__ import annotations

from dataclasses import dataclass

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.evidence_tables import Evidence, read_evidence
from etl.counted import counted
from etl.decide.evidence.findings import (
    NOT_CHECKED,
    PRESENT,
    EvidenceTable,
    contributions,
    coverage,
    log_site_prior,
    posterior,
    with_prevalence_cap,
)
from etl.decide.evidence.learn import (
    LEAST_CONFIRMED,
    LearntWeights,
    checking_habit,
    learn_weights,
    site_log_score,
    times_looked_for,
)
from etl.decide.evidence.level import judge
from etl.decide.evidence.next import expected_information, next_checks
from etl.load.warehouse import run_layer

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
States = NDArray[np.int8]

SHOWN = 3
"""Leading mechanisms of each teardown."""
LEAST_TO_COUNT = 0.80
"""Posterior from which on a failure without a concluded mechanism counts under the leading one;
in invented worlds nine in ten of those were right."""
SURE = ("supported", "confirmed")
LEAST_FOR_PREVALENCE = 50
"""Teardowns from which on it is known how common a finding is; the cap was tried from here on."""
BATCH = 400
LISTED_FROM = 0.25
"""Smallest addition to a log likelihood that is worth a word."""
BETWEEN = "; "

TEXTS = ("hose_id", "service_point", "mechanism", "level", "speaks_for", "speaks_against",
         "open_points", "next_check", "logged_mechanism", "basis")
COUNTS = ("rank", "life_id", "n_checked", "n_present", "n_unread")


@dataclass(frozen=True)
class Method:
    """Weights and prior that this fleet's records allow."""

    table: EvidenceTable
    learnt: LearntWeights | None
    log_prior: Floats
    words: str

    def contributions(self, states: States) -> Floats:
        """Return what each finding adds, shape (n_cases, n_findings, n_mechanisms)."""
        return (self.learnt.contributions(states) if self.learnt
                else contributions(self.table, states))

    def scores(self, states: States) -> Floats:
        """Return the scores, shape (n_cases, n_mechanisms), a batch at a time."""
        parts = [self.contributions(states[at:at + BATCH]).sum(axis=1)
                 for at in range(0, len(states), BATCH)]
        return np.concatenate([np.zeros((0, len(self.table.mechanisms))), *parts])


def add_teardown_evidence(con: duckdb.DuckDBPyConnection) -> None:
    """Register the frame of teardown evidence; its sure conclusions count in the fits.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds the layers ``seeds``, ``clean`` and ``lives``. A failure without a concluded
        mechanism counts under the one that its teardown shows with a posterior of at least
        `LEAST_TO_COUNT`, marked ``is_counted`` in the frame; a diagnosis of exclusion only once
        it is supported. ``fit.counted_lives`` reads it from there.
    """
    run_layer(con, "fit/teardown")
    evidence = read_evidence()
    cases = con.execute("select * from fit.teardowns order by teardown").df()
    states = _states(con, evidence.table, cases["teardown"].to_numpy(np.int64))
    frame = teardown_evidence(evidence, cases, states)
    con.register("teardown_evidence_frame", frame)


def _states(con: duckdb.DuckDBPyConnection, table: EvidenceTable, cases: Ints) -> States:
    """Return what was found of each finding in each teardown."""
    found = con.execute(
        "select teardown, finding, state from fit.teardown_findings order by teardown, finding"
    ).fetchall()
    states = np.zeros((cases.size, len(table.findings)), np.int8)
    row = {int(case): at for at, case in enumerate(cases)}
    column = {name: at for at, name in enumerate(table.findings)}
    for case, finding, state in found:
        states[row[case], column[finding]] = state
    return states


def choose_method(table: EvidenceTable, states: States, confirmed: Ints) -> Method:
    """Return the weights and the prior that a fleet's teardowns allow.

    Parameters
    ----------
    table : EvidenceTable
    states : ndarray of int, shape (n_cases, n_findings)
    confirmed : ndarray of int, shape (n_cases,)
        Mechanism that an examination concluded; -1 where none did.

    Returns
    -------
    Method
        Learnt weights only where records look like a checklist and predict the concluded
        mechanisms better than the packaged weights do, each case judged without itself.
    """
    known = np.flatnonzero(confirmed >= 0)
    n = known.size
    prior = log_site_prior(np.bincount(confirmed[known], minlength=len(table.mechanisms)))
    capped = table if len(states) < LEAST_FOR_PREVALENCE else with_prevalence_cap(
        table, (states == PRESENT).sum(axis=0), times_looked_for(states))
    concluded = counted(n, "concluded teardown")
    prior_words = f"prior from {concluded}" if n else "no mechanism taken as likelier beforehand"
    usual = Method(capped, None, prior, f"weights as delivered, by judgement; {prior_words}")
    if n < LEAST_CONFIRMED:
        return usual
    habit = checking_habit(states[known], confirmed[known], len(table.mechanisms))
    if not habit.is_checklist:
        return Method(capped, None, prior, f"{usual.words}; nothing else learnt: {habit.words}")
    learnt = learn_weights(table, states[known], confirmed[known])
    if learnt.log_score <= site_log_score(usual.scores(states[known]), confirmed[known]):
        return usual
    return Method(capped, learnt, prior, f"weights learnt from {concluded}")


def teardown_evidence(
    evidence: Evidence, cases: pd.DataFrame, states: States
) -> pd.DataFrame:
    """Return the leading mechanisms of each teardown with what speaks for and against them.

    Parameters
    ----------
    evidence : Evidence
    cases : DataFrame
        ``fit.teardowns``.
    states : ndarray of int, shape (n_cases, n_findings)

    Returns
    -------
    DataFrame
        `SHOWN` rows a teardown by rank; the level, its open points and the next check stand with
        the first.
    """
    number = {name: at for at, name in enumerate(evidence.table.mechanisms)}
    confirmed = np.array([number.get(str(name), -1) for name in cases["confirmed_mechanism"]],
                         np.intp)
    method = choose_method(evidence.table, states, confirmed)
    # What is told depends on the findings alone, and a checklist gives many hoses the same ones.
    patterns, pattern = np.unique(states, axis=0, return_inverse=True)
    told = tell(evidence, method, patterns)
    rows: list[dict[str, object]] = []
    for at, (case, mine) in enumerate(zip(cases.itertuples(index=False), pattern.ravel(),
                                          strict=True)):
        known = {
            "life_id": case.life_id, "hose_id": case.hose_id, "service_point": case.service_point,
            "removed_on": case.removed_on, "examined_on": case.examined_on,
            "logged_mechanism": case.logged_mechanism, "n_unread": case.n_unread,
            "n_checked": int((states[at] != NOT_CHECKED).sum()),
            "n_present": int((states[at] == PRESENT).sum()), "basis": method.words,
        }
        first, *others = told[mine]
        is_counted = bool(case.is_open) and _is_sure(evidence, first)
        rows += [known | first | {"is_counted": is_counted}, *(known | row for row in others)]
    return _typed(pd.DataFrame(rows, columns=[
        *TEXTS, *COUNTS, "removed_on", "examined_on", "probability", "coverage", "is_counted"]))


def tell(evidence: Evidence, method: Method, states: States) -> list[list[dict[str, object]]]:
    """Return the rows that tell of each pattern of findings."""
    table = evidence.table
    probability = posterior(method.scores(states), method.log_prior)
    covered = coverage(table, states)
    told = []
    for first in range(0, len(states), BATCH):
        parts = method.contributions(states[first:first + BATCH])
        told += [_leaders(evidence, states[at], parts[at - first], probability[at], covered[at])
                 for at in range(first, first + len(parts))]
    return told


def _leaders(
    evidence: Evidence, states: States, parts: Floats, probability: Floats, covered: Floats
) -> list[dict[str, object]]:
    """Return the rows of one pattern of findings."""
    table = evidence.table
    verdict = judge(table, evidence.rules, states, probability, covered, evidence.names,
                    evidence.words)
    rows: list[dict[str, object]] = []
    for rank, column in enumerate(np.argsort(-probability, kind="stable")[:SHOWN], start=1):
        rows.append({
            "rank": rank, "mechanism": table.mechanisms[column],
            "probability": float(probability[column]), "coverage": float(covered[column]),
            "speaks_for": _said(evidence, states, parts[:, column]),
            "speaks_against": _said(evidence, states, -parts[:, column]),
            "level": None, "open_points": None, "next_check": None, "is_counted": False,
        })
    rows[0] |= {"level": verdict.level, "open_points": BETWEEN.join(verdict.open_points) or None,
                "next_check": _next(evidence, states, probability, verdict.open_findings)}
    return rows


def _said(evidence: Evidence, states: States, part: Floats) -> str | None:
    """Return the findings that speak for a mechanism, the strongest first."""
    order = np.argsort(-part, kind="stable")
    said = [f"{'no ' if states[row] < 0 else ''}{evidence.words[row]} "
            f"({_strength(evidence, float(part[row]))})"
            for row in order if part[row] >= LISTED_FROM]
    return BETWEEN.join(said) or None


def _strength(evidence: Evidence, part: float) -> str:
    """Return how strongly a finding speaks, in the words of the packaged strengths."""
    by_size = sorted(evidence.strengths.items(), key=lambda item: item[1])
    held = [words for words, least in by_size if part >= least - 1e-9]
    return held[-1] if held else by_size[0][0]


def _next(
    evidence: Evidence, states: States, probability: Floats, open_findings: tuple[int, ...]
) -> str | None:
    """Return the check that tells most; where a rule leaves points open, the best that closes one.
    """
    table = evidence.table
    best = next_checks(table, states, probability, 1)
    if open_findings:
        gain = expected_information(table, states, probability) / table.effort
        best = [max(open_findings, key=lambda row: (gain[row], -row))]
    return f"{evidence.words[best[0]]} ({evidence.looked_at[best[0]]})" if best else None


def _is_sure(evidence: Evidence, row: dict[str, object]) -> bool:
    """Tell whether a failure may count under the leading mechanism of its teardown."""
    column = evidence.table.mechanisms.index(str(row["mechanism"]))
    is_likely = float(str(row["probability"])) >= LEAST_TO_COUNT
    return is_likely and (column not in evidence.rules or row["level"] in SURE)


def _typed(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the frame with the same types whether or not it has rows."""
    kinds = {name: "string" for name in TEXTS} | {name: "Int64" for name in COUNTS} | {
        "probability": "float64", "coverage": "float64", "is_counted": "bool",
        "removed_on": "datetime64[us]", "examined_on": "datetime64[us]"}
    return frame.astype(kinds)
