"""What to do next at a service point."""

from dataclasses import replace

import pytest

from etl.decide.next_step import (
    BY_MECHANISM,
    DANGEROUS,
    PlaceFacts,
    PlannedChange,
    next_step,
)

QUIET = PlaceFacts(
    hazards=(), n_failures=3, n_early_failures=0, expected_so_far=3.0, is_failure_prone=False,
    mechanism=None, mechanism_share=0.0, failure_probability_90_days=0.05, chance_if_new=0.05,
    has_hose=True, is_dear=False,
)
PRONE = replace(QUIET, is_failure_prone=True, n_failures=7)
LATER = PlannedChange(412.3, 200.0, "19 May 2027", "changing at 412 days costs least", False)
SOON = replace(LATER, in_days=60.0, by="30 Dec 2026")
PAST = replace(LATER, in_days=1.0)
RULE = replace(SOON, is_required=True, reason="the site requires a change within 730 days")


@pytest.mark.parametrize(
    ("facts", "step"),
    [
        (QUIET, "Leave as it is"),
        (replace(QUIET, is_dear=True), "Compare kinds of hose"),
        (replace(QUIET, has_hose=False), "Nothing to do"),
        (replace(QUIET, n_failures=0, expected_so_far=0.3), "Keep recording"),
        (replace(QUIET, failure_probability_90_days=0.4), "Plan the next change"),
        (replace(QUIET, failure_probability_90_days=0.4, chance_if_new=0.35), "Leave as it is"),
        (replace(QUIET, failure_probability_90_days=0.12, chance_if_new=0.01), "Leave as it is"),
        (replace(QUIET, n_early_failures=2), "Check the installation"),
        (PRONE, "Start a trial"),
        (replace(PRONE, mechanism="vib_fatigue", mechanism_share=0.8), "Start a trial"),
        (replace(PRONE, mechanism="torsion_fatigue", mechanism_share=0.8),
         "Turn into the plane of movement"),
        (replace(PRONE, mechanism="torsion_fatigue", mechanism_share=0.3), "Start a trial"),
        (replace(QUIET, mechanism="pit_internal", mechanism_share=0.7),
         "Ask an engineer about the alloy"),
        (replace(QUIET, replacement=LATER), "Replace at 412 days"),
        (replace(QUIET, replacement=SOON), "Replace by 30 Dec 2026"),
        (replace(QUIET, replacement=PAST), "Replace at the next chance"),
        (replace(QUIET, n_failures=0, expected_so_far=0.3, replacement=LATER),
         "Replace at 412 days"),
        (replace(QUIET, mechanism="pit_internal", mechanism_share=0.7, replacement=LATER),
         "Ask an engineer about the alloy"),
        (replace(PRONE, replacement=SOON), "Start a trial"),
        (replace(PRONE, adopted="C-2"), "Fit C-2 next"),
        (replace(PRONE, adopted="C-2", hazards=("hot",)), "Fit C-2 next"),
        (replace(PRONE, adopted="C-2", is_in_trial=True), "Leave it to its trial"),
        (replace(PRONE, adopted="C-2", mechanism="torsion_fatigue", mechanism_share=0.8),
         "Turn into the plane of movement"),
        (replace(QUIET, is_dear=True, adopted="C-2"), "Fit C-2 next"),
        (replace(QUIET, adopted="C-2"), "Leave as it is"),
        (replace(QUIET, is_in_trial=True), "Leave as it is"),
        (replace(PRONE, replacement=RULE), "Replace by 30 Dec 2026"),
        (replace(QUIET, n_early_failures=2, replacement=RULE), "Replace by 30 Dec 2026"),
        (replace(QUIET, replacement=replace(LATER, is_required=True)), "Replace at 412 days"),
    ],
)
def test_next_step(facts, step):
    assert next_step(facts)[0] == step


@pytest.mark.parametrize("hazard", ["toxic", "flammable", "asphyxiant"])
@pytest.mark.parametrize("mechanism", [None, *BY_MECHANISM])
def test_dangerous_service_is_never_sent_into_a_trial(hazard, mechanism):
    share = 1.0 if mechanism else 0.0
    step, why = next_step(
        replace(PRONE, hazards=(hazard,), mechanism=mechanism, mechanism_share=share)
    )
    assert step != "Start a trial"
    assert why


def test_reasons_carry_their_figures():
    step, why = next_step(replace(QUIET, failure_probability_90_days=0.4))
    assert "5\xa0% for a new hose" in why
    assert "40\xa0%" in why
    assert step


@pytest.mark.parametrize("hazard", sorted(DANGEROUS))
def test_hazardous_service_is_never_left_to_fail(hazard):
    for facts in (QUIET, replace(QUIET, is_dear=True)):
        step, _ = next_step(replace(facts, hazards=(hazard,)))
        assert step != "Leave as it is"
    assert "not run to failure" in next_step(replace(QUIET, hazards=(hazard,)))[1]


@pytest.mark.parametrize("planned", [LATER, SOON, PAST, RULE])
def test_a_planned_change_carries_its_reason(planned):
    assert next_step(replace(QUIET, replacement=planned))[1] == planned.reason
