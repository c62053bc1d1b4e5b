"""Trials: candidates with their two arms, registered trials by arm."""

import pytest

from dashboard import parts_arms, parts_trials


@pytest.fixture(scope="module")
def text(full):
    return full.text("/trials")


def arm(name="stiff", place="A", hoses=5, failed=1, days=900.0):
    return {"trial": "T", "service_point": place, "arm": name, "construction": "C", "state":
            "running", "started_on": None, "ended_on": None, "n_hoses": hoses,
            "n_failures": failed, "days_in_service": days, "hazards": None}


def test_a_candidate_shows_both_arms_their_reasons_and_what_stands_against(text):
    for part in ("C-316-CP1", "softest that holds 62 bar", "C-321-OP2H", "3.1 times as stiff",
                 "about 14 months", "no second construction suits",
                 "no like place to pair with"):
        assert part in text


def test_the_cautions_of_a_trial_are_always_there(text):
    assert "management of change" in text
    assert "never trialled" in text


def test_a_registered_trial_counts_failures_and_hose_days_by_arm(text):
    assert "4 failed, 1 not" in text
    assert "900 hose-days" in text
    assert "Decide by the rule fixed beforehand" in text


def test_an_arm_at_two_places_is_counted_once_over_both():
    total = parts_arms.totals([arm(place="A"), arm(place="B", failed=2, days=100.0)])
    assert len(total) == 1
    assert (total[0]["n_hoses"], total[0]["n_failures"], total[0]["days"]) == (10, 3, 1000.0)
    assert total[0]["places"] == {"A", "B"}


def test_no_failure_and_no_start_are_said_in_words():
    said = parts_arms.told([arm("flexible", failed=0), arm("stiff", hoses=0, failed=0, days=0)])
    assert "flexible: no failure in 900 hose-days" in said
    assert "stiff: not begun" in said


def test_a_range_of_one_place_is_not_put_beside_a_figure_it_does_not_hold():
    assert parts_trials._is_within(1.0, 0.5, 2.0)
    assert not parts_trials._is_within(1.0, 1.5, 2.0)
    assert not parts_trials._is_within(None, 0.5, 2.0)
