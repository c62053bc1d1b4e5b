"""Learning from confirmed teardowns, and the guard against habits of checking."""

import numpy as np
import pytest
from scipy.special import log_softmax
from scipy.stats import chi2_contingency

from etl.build.evidence_tables import read_evidence
from etl.decide.evidence.findings import log_site_prior
from etl.decide.evidence.learn import (
    checking_habit,
    learn_weights,
    site_log_score,
    times_looked_for,
)

TABLE = read_evidence().table
N = len(TABLE.mechanisms)


@pytest.fixture(scope="module")
def records():
    rng = np.random.default_rng(5)
    confirmed = rng.integers(0, 4, 60)
    states = rng.choice([-1, -1, -1, 0, 1], (60, len(TABLE.findings))).astype(np.int8)
    return states, confirmed


def test_dependence_agrees_with_a_general_library():
    rng = np.random.default_rng(6)
    confirmed = rng.integers(0, 3, 200)
    rate = np.where(confirmed[:, None] == 1, 0.7, 0.4)
    rate = np.where(np.arange(88)[None, :] < 20, rate, 0.5)
    states = np.where(rng.random((200, 88)) < rate, -1, 0).astype(np.int8)
    found = checking_habit(states, confirmed, N)
    p = [chi2_contingency([np.bincount(confirmed[states[:, f] != 0], minlength=3),
                           np.bincount(confirmed[states[:, f] == 0], minlength=3)],
                          correction=False).pvalue for f in range(88)]
    assert found.dependent_share == pytest.approx(np.mean(np.array(p) < 0.01), abs=1e-12)
    assert found.dependent_share > 0.10
    assert not found.is_checklist
    assert "depends on the mechanism" in found.words


@pytest.mark.parametrize("states", [
    pytest.param(np.ones((30, 88), np.int8), id="only what is seen"),
    pytest.param(np.zeros((30, 88), np.int8), id="nothing"),
    pytest.param(np.zeros((0, 88), np.int8), id="no teardown"),
])
def test_records_without_absence_are_no_checklist(states):
    assert not checking_habit(states, np.zeros(len(states), np.intp), N).is_checklist


def test_times_looked_for_falls_back_on_all_teardowns_where_only_sights_are_written_down():
    sights = np.zeros((9, 3), np.int8)
    sights[:4, 0] = 1
    assert times_looked_for(sights).tolist() == [9, 9, 9]
    checked = np.array([[1, -1, -1, 0], [-1, -1, -1, -1]], np.int8)
    assert times_looked_for(checked).tolist() == [2, 2, 2, 1]


def test_log_score_leaves_each_case_out(records):
    states, confirmed = records
    learnt = learn_weights(TABLE, states, confirmed)
    by_hand = []
    for case in range(len(states)):
        kept = np.arange(len(states)) != case
        seen, gone = states[kept] == 1, states[kept] == -1
        # Prevalence stays that of all cases; the counts under the mechanisms do not.
        share = ((states == 1).sum(axis=0) + 1) / ((states != 0).sum(axis=0) + 10)
        base = np.clip(share[:, None] * np.exp(TABLE.weight), 0.005, 0.95)
        score = log_site_prior(np.bincount(confirmed[kept], minlength=N))
        for m in range(N):
            mine = confirmed[kept] == m
            k = learnt.pseudo_checks
            chance = np.clip((k * base[:, m] + seen[mine].sum(axis=0))
                             / (k + (seen | gone)[mine].sum(axis=0)), 0.005, 0.95)
            told = (np.log(chance[states[case] == 1]).sum()
                    + np.log1p(-chance[states[case] == -1]).sum())
            score[m] += learnt.temperature * told
        by_hand.append(log_softmax(score)[confirmed[case]])
    assert learnt.log_score == pytest.approx(np.mean(by_hand), rel=1e-10)


def test_pure_noise_teaches_next_to_nothing(records):
    states, confirmed = records
    learnt = learn_weights(TABLE, states, confirmed)
    without = site_log_score(np.zeros((60, N)), confirmed)
    assert learnt.log_score < without + 0.1


def test_absence_speaks_once_learnt():
    confirmed = np.repeat([0, 1], 40)
    states = np.zeros((80, 88), np.int8)
    states[:40, 5], states[40:, 5] = 1, -1
    states[:, 6:20] = -1
    learnt = learn_weights(TABLE, states, confirmed)
    absent = np.zeros((1, 88), np.int8)
    absent[0, 5] = -1
    part = learnt.contributions(absent)[0, 5]
    assert part[1] > part[0] + 0.5
