"""Suspected, supported, confirmed; and vibration only by exclusion."""

import numpy as np
import pytest

from etl.build.evidence_tables import read_evidence
from etl.decide.evidence.findings import EvidenceTable, contributions, coverage, posterior
from etl.decide.evidence.level import judge

EVIDENCE = read_evidence()
TABLE = EVIDENCE.table
VIBRATION = TABLE.mechanisms.index("vib_fatigue")

# Everything that bears on vibration, answered so that the exclusions close.
FOUND = ("loc_end", "crk_circ", "no_corr", "no_set", "radius_ok", "vib_high", "res_match",
         "place_repeat", "p_low", "vel_low", "pipe_loose", "shake_seen")
NOT_FOUND = ("crk_branch", "crk_long", "crk_45", "hole_nocrack", "crest_marks", "red_debris",
             "wires_worn", "wires_collar", "wires_tensile", "wires_corr", "braid_loose",
             "braid_skew", "braid_rub", "kink", "dent", "wrench", "squirm_shape", "pitch_uneven",
             "plane_out", "short_live", "axial_pull", "pulsation", "batch_cluster", "after_speed",
             "years_unchanged", "loc_low", "loc_contact", "pit_id", "pit_od", "pmi_bad", "whistle",
             "crk_circ_multi")


def judged(present, absent=()):
    states = np.zeros(len(TABLE.findings), np.int8)
    for name in absent:
        states[TABLE.row(name)] = -1
    for name in present:
        states[TABLE.row(name)] = 1
    flat = np.zeros(len(TABLE.mechanisms))
    p = posterior(contributions(TABLE, states[None, :]).sum(axis=1), flat)[0]
    return judge(TABLE, EVIDENCE.rules, states, p, coverage(TABLE, states[None, :])[0],
                 EVIDENCE.names, EVIDENCE.words)


def without(names, *gone):
    return [name for name in names if name not in gone]


def test_vibration_is_supported_once_the_rest_is_excluded():
    found = judged(FOUND, NOT_FOUND)
    assert (found.mechanism, found.level) == (VIBRATION, "supported")
    assert found.open_points == ("not seen on the fracture in a laboratory",)


def test_fracture_in_the_laboratory_confirms():
    found = judged((*FOUND, "hcf_flat"), NOT_FOUND)
    assert (found.level, found.open_points) == ("confirmed", ())


def test_a_fracture_that_says_nothing_for_it_does_not_confirm():
    assert judged((*FOUND, "lcf_def"), NOT_FOUND).level != "confirmed"


def test_a_machine_that_vibrates_is_not_enough():
    found = judged(["vib_high", "shake_seen", "res_match"])
    assert (found.mechanism, found.level) == (VIBRATION, "suspected")
    assert any("one crack running round" in point for point in found.open_points)


@pytest.mark.parametrize(("present", "absent", "said"), [
    pytest.param(without(FOUND, "crk_circ"), NOT_FOUND, "none of this was found",
                 id="no crack round the hose"),
    pytest.param(without(FOUND, "vib_high", "res_match", "place_repeat"), NOT_FOUND,
                 "no positive sign", id="no positive sign"),
    pytest.param((*FOUND, "crk_branch"), without(NOT_FOUND, "crk_branch"),
                 "against it: crack that branches", id="a branching crack"),
    pytest.param(FOUND, without(NOT_FOUND, "crk_45", "braid_skew", "plane_out"),
                 "not looked for: torsion fatigue", id="twist not looked for"),
    pytest.param(FOUND, without(NOT_FOUND, "pmi_bad"),
                 "not looked for: wrong material", id="alloy not checked"),
    pytest.param(without(FOUND, "vel_low"), without(NOT_FOUND, "whistle"),
                 "not looked for: flow-induced vibration", id="flow not looked at"),
    pytest.param((*without(FOUND, "no_set", "radius_ok"), "set_bend"), NOT_FOUND,
                 "not excluded: bending fatigue", id="bent as well"),
])
def test_an_open_point_keeps_vibration_suspected(present, absent, said):
    found = judged(present, absent)
    assert found.level == "suspected"
    assert any(said in point for point in found.open_points), found.open_points


def test_an_unchecked_exclusion_names_the_checks_that_would_close_it():
    found = judged(FOUND, without(NOT_FOUND, "crk_45", "braid_skew", "plane_out"))
    assert {TABLE.findings[row] for row in found.open_findings} == {
        "crk_45", "braid_skew", "plane_out"}


@pytest.mark.parametrize(("present", "level", "said"), [
    pytest.param([], "nothing found", "nothing found speaks", id="nothing checked"),
    pytest.param(["p_low"], "nothing found", "nothing found speaks", id="only against"),
    pytest.param(["loc_end", "crk_circ"], "suspected", "just as likely", id="a tie"),
    pytest.param(["crk_45"], "suspected", "of what bears on it was checked", id="few checks"),
    pytest.param(["loc_weld"], "suspected", "of what bears on it", id="lead without coverage"),
    pytest.param(["red_debris", "wires_collar"], "suspected", "times as likely as",
                 id="small lead"),
])
def test_other_mechanisms_need_lead_and_coverage(present, level, said):
    found = judged(present)
    assert found.level == level
    assert any(said in point for point in found.open_points), found.open_points


def test_other_mechanisms_are_supported_without_exclusions():
    twisted = TABLE.mechanisms.index("torsion_fatigue")
    bears = [TABLE.findings[row] for row in np.flatnonzero(TABLE.weight[:, twisted])]
    present = ("crk_45", "braid_skew", "plane_out")
    found = judged(present, without(bears, *present))
    assert (found.mechanism, found.level) == (twisted, "supported")


@pytest.mark.parametrize(("probability", "said"), [
    pytest.param([0.4, 0.4, 0.2], "b is just as likely", id="a tie"),
    pytest.param([0.3, 0.3, 0.3, 0.1], "b and c are just as likely", id="a tie of three"),
    pytest.param([0.41, 0.40, 0.19], "b is about as likely", id="not 1.0 times"),
    pytest.param([0.24, 0.235, 0.233, 0.23, 0.062], "b, c and d are about as likely",
                 id="four close together"),
    pytest.param([0.42, 0.38, 0.2], "only 1.1 times as likely as b", id="a small lead"),
    pytest.param([0.74, 0.25, 0.01], "only 2.9 times as likely as b", id="not 3.0 times"),
    pytest.param([0.75, 0.25], None, id="the lead asked for"),
])
def test_a_lead_too_small_is_told_as_it_is(probability, said):
    n = len(probability)
    table = EvidenceTable(("f",), tuple("abcde"[:n]), np.zeros(1, int), np.ones((1, n)),
                          np.zeros((1, 1), bool), np.zeros(1, bool), np.ones(1))
    found = judge(table, {}, np.ones(1, np.int8), np.array(probability), np.ones(n),
                  "abcde"[:n], ["f"])
    assert found.open_points == (said or "not seen on the fracture in a laboratory",)
