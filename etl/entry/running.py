"""What the findings so far suggest, while a hose is still being taken apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from etl.build.evidence_tables import Evidence, read_evidence
from etl.build.teardown_table import Method, choose_method, tell
from etl.decide.evidence.findings import ABSENT, NOT_CHECKED, PRESENT, posterior
from etl.decide.evidence.next import next_checks

STATES = {"present": PRESENT, "absent": ABSENT, "not checked": NOT_CHECKED}
N_NEXT = 3


@dataclass(frozen=True)
class Running:
    """What the findings of one hose suggest at this moment.

    Attributes
    ----------
    leaders : tuple of dict
        The likeliest mechanisms, each with ``mechanism``, ``probability``, ``coverage``,
        ``speaks_for`` and ``speaks_against``; the first also with ``level`` and ``open_points``.
    next_findings : tuple of str
        What to look for next: what closes a point that a rule leaves open, then what tells most
        for its effort.
    n_checked, n_present : int
    basis : str
        Where weights and prior come from.
    """

    leaders: tuple[Mapping[str, Any], ...]
    next_findings: tuple[str, ...]
    n_checked: int
    n_present: int
    basis: str


@dataclass(frozen=True)
class Judge:
    """Weights, prior and rules that hold for one fleet."""

    evidence: Evidence
    method: Method

    def judge(self, found: Mapping[str, str]) -> Running:
        """Return what findings suggest.

        Parameters
        ----------
        found : mapping of str to str
            Finding to a key of `STATES`; what is left out was not checked, names that the table
            does not have are passed over.
        """
        table = self.evidence.table
        states = _states(table.findings, [found])
        probability = posterior(self.method.scores(states), self.method.log_prior)[0]
        told = tell(self.evidence, self.method, states)[0]
        named = zip(self.evidence.words, self.evidence.looked_at, strict=True)
        first = [row for row, (words, where) in enumerate(named)
                 if f"{words} ({where})" == told[0]["next_check"]]
        ahead = dict.fromkeys([*first, *next_checks(table, states[0], probability)])
        return Running(tuple(told), tuple(table.findings[row] for row in ahead)[:N_NEXT],
                       int((states != NOT_CHECKED).sum()), int((states == PRESENT).sum()),
                       self.method.words)


def judge_of(known: Sequence[Mapping[str, Any]]) -> Judge:
    """Return weights and prior for a fleet, as its edition chose them.

    Parameters
    ----------
    known : sequence of mapping
        Teardowns of the published edition in their published order: ``found``, mapping of finding
        to state, and ``confirmed_mechanism``.
    """
    evidence = read_evidence()
    number = {name: at for at, name in enumerate(evidence.table.mechanisms)}
    confirmed = np.array([number.get(str(case["confirmed_mechanism"]), -1) for case in known],
                         np.intp)
    states = _states(evidence.table.findings, [case["found"] for case in known])
    return Judge(evidence, choose_method(evidence.table, states, confirmed))


def _states(findings: Sequence[str], cases: Sequence[Mapping[str, str]]) -> NDArray[np.int8]:
    """Return what was found as numbers, shape (n_cases, n_findings)."""
    column = {name: at for at, name in enumerate(findings)}
    states = np.zeros((len(cases), len(findings)), np.int8)
    for row, case in enumerate(cases):
        for name, state in case.items():
            if name in column:
                states[row, column[name]] = STATES[state]
    return states
