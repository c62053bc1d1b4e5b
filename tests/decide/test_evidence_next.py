"""What to look at next: against a slow count over both answers, and on cases whose answer is plain.
"""

import numpy as np
import pytest

from etl.build.evidence_tables import read_evidence
from etl.decide.evidence.findings import contributions, posterior
from etl.decide.evidence.next import expected_information, next_checks

TABLE = read_evidence().table
FLAT = np.zeros(len(TABLE.mechanisms))


def states(*present, absent=()):
    found = np.zeros(len(TABLE.findings), np.int8)
    for name in present:
        found[TABLE.row(name)] = 1
    for name in absent:
        found[TABLE.row(name)] = -1
    return found


def beliefs(found):
    return posterior(contributions(TABLE, found[None, :]).sum(axis=1), FLAT)[0]


def slow_gain(row, p):
    """Expected fall of entropy after one check, mechanism by mechanism."""
    def entropy(values):
        return -sum(v * np.log(v) for v in values if v > 0)

    chance = [min(max(0.12 * np.exp(w), 0.01), 0.9) for w in TABLE.weight[row]]
    gain = entropy(p)
    for answer in (True, False):
        like = [c if answer else 1 - c for c in chance]
        told = sum(q * c for q, c in zip(p, like, strict=True))
        after = [q * c**0.8 for q, c in zip(p, like, strict=True)]
        gain -= told * entropy([a / sum(after) for a in after])
    return max(gain, 0.0)


@pytest.mark.parametrize("found", [states(), states("loc_end", "crk_circ"), states("wrench")])
def test_expected_information_agrees_with_a_slow_count(found):
    p = beliefs(found)
    gain = expected_information(TABLE, found, p)
    for row in np.flatnonzero(gain):
        assert gain[row] == pytest.approx(slow_gain(row, p), rel=1e-9, abs=1e-12)


def test_answered_questions_are_not_asked_again():
    found = states("loc_end", "vib_high", absent=["crk_45"])
    asked = [TABLE.findings[row] for row in next_checks(TABLE, found, beliefs(found), 88)]
    assert not {"loc_end", "loc_mid", "vib_high", "vib_low", "crk_45"} & set(asked)
    assert "res_match" in asked


def test_bending_or_vibration_is_settled_by_what_tells_them_apart():
    found = states("loc_end", "crk_circ")
    first = next_checks(TABLE, found, beliefs(found), 3)
    assert {TABLE.findings[row] for row in first} <= {"set_bend", "offset_big", "vib_high"}


def test_effort_puts_the_laboratory_last():
    found = states("loc_end", "crk_circ")
    p = beliefs(found)
    by_gain = next_checks(TABLE, found, p, 20, per_effort=False)
    by_effort = next_checks(TABLE, found, p, 20)
    assert TABLE.is_laboratory[by_gain].sum() > TABLE.is_laboratory[by_effort].sum()


def test_nothing_is_left_to_ask_once_all_is_answered():
    found = np.full(len(TABLE.findings), -1, np.int8)
    assert next_checks(TABLE, found, beliefs(found)) == []
