"""What a trial says: its rule, its state, and what a decision takes and drops."""

from dataclasses import replace

import pytest

from etl.decide.trial.words import Rule, Standing, state_of, verdicts

ARMS = {"flexible": "C-316-CP1", "stiff": "C-321-OP2H"}
STIFF, FLEXIBLE = {"C-316-CP1": False, "C-321-OP2H": True}, {"C-316-CP1": True, "C-321-OP2H": False}
STANDING = Standing("flexible", "stiff", None, False, True, 8, 14, None, None, True, True, 0.5)
RULE = Rule("30 Nov 2027", 28.0, 0.22, 90, 8, False)


@pytest.mark.parametrize(("decision", "found"), [
    ("stiff construction adopted", STIFF),
    ("C-321-OP2H adopted", STIFF),
    ("stiffer outlasts", STIFF),
    ("Stiff adopted, flexible withdrawn", STIFF),
    ("flexible rejected", STIFF),
    ("stiff arm withdrawn for safety", FLEXIBLE),
    ("switch to flexible", FLEXIBLE),
    ("stiff not adopted", FLEXIBLE),
    ("stiff is not better", {}),
    ("no difference, flexible kept", {}),
    ("stiff adopted instead of flexible", {}),
    ("stiff adopted; stiff withdrawn", {}),
    ("both adopted", {}),
    ("flexible adopted, stiff adopted", {}),
    ("see minutes of 3 May", {}),
    ("inconclusive", {}),
    ("stiffness measured again", {}),
])
def test_only_a_decision_that_names_one_arm_and_its_fate_is_followed(decision, found):
    assert verdicts(decision, ARMS) == found


def test_arms_of_one_construction_leave_no_verdict():
    assert verdicts("a adopted", {"a": "C", "b": "C"}) == {}


@pytest.mark.parametrize(("changes", "state", "words"), [
    ({}, "open", "the difference is not beyond the limit fixed"),
    ({"n_failures": 0}, "too early", "No failure in either arm"),
    ({"second_longer": 0.96}, "favoured", "stiff favoured (96 %), not shown"),
    ({"second_longer": 0.03}, "favoured", "flexible favoured (97 %), not shown"),
    ({"second_longer": 0.96, "is_registered": False}, "favoured", "no rule was registered"),
    ({"second_longer": 0.96, "n_pairs": 5}, "favoured", "fewer than 6 pairs"),
    ({"claimed_arm": "stiff"}, "shown", "likely overstated"),
    ({"claimed_arm": "stiff", "is_settled": False}, "fewer failures so far",
     "not yet a claim about mean life"),
    ({"is_ended": True, "second_longer": 0.8}, "ended, not decided",
     "choose stiff, right with 80 % chance. A difference was not shown"),
    ({"stopped_arm": "stiff", "claimed_arm": "stiff"}, "safety stop", "no claim either way"),
    ({"stopped_arm": "stiff", "decision": "stiff withdrawn"}, "decided", "stiff withdrawn"),
])
def test_the_state_never_calls_favoured_what_was_not_shown(changes, state, words):
    found, said = state_of(replace(STANDING, **changes))
    assert found == state
    assert words in said.replace("\u00a0", " ")


def test_a_claim_at_the_planned_end_is_not_called_overstated():
    _, said = state_of(replace(STANDING, claimed_arm="stiff", is_claim_early=False))
    assert "overstated" not in said
    _, said = state_of(replace(STANDING, claimed_arm="stiff", is_ended=True))
    assert "overstated" in said


def test_the_rule_says_safety_claim_and_choice_with_their_numbers():
    said = RULE.words().replace("\u00a0", " ")
    for part in ("Safety: an arm stops when it has 2 or more failures before 90 days", "22 %",
                 "Claim: a difference is claimed only by the sign-flip test", "up to 28",
                 "Choice: at the planned end, 30 Nov 2027", "without registering it anew"):
        assert part in said
    assert "Claim: none" in replace(RULE, n_pairs=5).words()
    assert "the service is hazardous" in replace(RULE, is_hazardous=True).words()
