"""What to do next at a service point."""

from dataclasses import replace

import pytest

from etl.decide.next_step import BY_MECHANISM, PlaceFacts, next_step

QUIET = PlaceFacts(
    hazards=(), n_failures=3, n_early_failures=0, expected_so_far=3.0, is_failure_prone=False,
    mechanism=None, mechanism_share=0.0, failure_probability_90_days=0.05, chance_if_new=0.05,
    has_hose=True, is_dear=False,
)
PRONE = replace(QUIET, is_failure_prone=True, n_failures=7)


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
    assert "5% for a new hose" in why
    assert "40%" in why
    assert step
