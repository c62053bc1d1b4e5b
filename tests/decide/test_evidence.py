"""How findings add up to posteriors: by hand, by identities, and on plain cases."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from etl.build.evidence_tables import read_evidence
from etl.decide.evidence.findings import (
    ABSENT,
    PRESENT,
    EvidenceTable,
    answered,
    contributions,
    coverage,
    log_site_prior,
    posterior,
    with_prevalence_cap,
)
from etl.errors import InputError
from etl.load.seeds import rows

TABLE = read_evidence().table
FLAT = np.zeros(len(TABLE.mechanisms))
WEAK, FAIR, STRONG = np.log([1.65, 3.0, 10.0])

# Two kinds of findings, three mechanisms; small enough to add up on paper.
SMALL = EvidenceTable(
    findings=("a1", "a2", "a3", "b1"), mechanisms=("x", "y", "z"),
    kind=np.array([0, 0, 0, 1]),
    weight=np.array([[STRONG, -FAIR, 0.0], [FAIR, -WEAK, 0.0], [WEAK, -WEAK, 0.0],
                     [-FAIR, STRONG, 0.0]]),
    rules_out=np.array([[0, 0, 0, 0], [0, 0, 1, 0], [0, 1, 0, 0], [0, 0, 0, 0]], bool),
    is_laboratory=np.zeros(4, bool), effort=np.ones(4))


def case(*present, table=TABLE, absent=()):
    states = np.zeros((1, len(table.findings)), np.int8)
    states[0, [table.row(name) for name in present]] = PRESENT
    states[0, [table.row(name) for name in absent]] = ABSENT
    return states


def probability(*present, absent=()):
    scores = contributions(TABLE, case(*present, absent=absent)).sum(axis=1)
    return dict(zip(TABLE.mechanisms, posterior(scores, FLAT)[0].tolist(), strict=True))


def leaders(*present):
    found = probability(*present)
    return sorted(found, key=lambda name: (-found[name], name))


@pytest.mark.parametrize(("present", "expected"), [
    pytest.param([], [1, 1, 1], id="nothing found"),
    pytest.param(["a1"], [10, 1 / 3, 1], id="one finding"),
    pytest.param(["a1", "a2"], [10 * 3**0.5, 1 / 3 / 1.65**0.5, 1], id="second of a kind, half"),
    pytest.param(["a1", "a2", "a3"], [10 * 3**0.5, 1 / 3 / 1.65**0.5, 1],
                 id="third of a kind, nothing"),
    pytest.param(["a1", "b1"], [10 / 3, 10 / 3, 1], id="other kind, in full"),
    pytest.param(["a1", "a2", "b1"], [10 * 3**0.5 / 3, 10 / 3 / 1.65**0.5, 1],
                 id="for and against are counted apart"),
])
def test_scores_added_up_by_hand(present, expected):
    found = posterior(contributions(SMALL, case(*present, table=SMALL)).sum(axis=1), np.zeros(3))
    np.testing.assert_allclose(found[0], np.array(expected) / np.sum(expected), rtol=1e-12)


def test_prior_multiplies():
    scores = contributions(SMALL, case("a1", table=SMALL)).sum(axis=1)
    found = posterior(scores, log_site_prior([0, 11, 3]))
    odds = np.array([10 * 1, 12 / 3, 4])
    np.testing.assert_allclose(found[0], odds / odds.sum(), rtol=1e-12)


def test_lone_crack_round_an_end_leaves_bending_and_vibration_equal():
    found = probability("loc_end", "crk_circ")
    assert leaders("loc_end", "crk_circ")[:2] == ["bend_fatigue", "vib_fatigue"]
    assert found["bend_fatigue"] == pytest.approx(found["vib_fatigue"], rel=1e-12)
    # (1 + weak + ...) by hand: 3 * 3 of 39.5
    total = 10 + 2 * 9 + 3 * 1.65 + 1.65**2 + 1.65 + 1 / 1.65**2 + 3 / 1.65
    assert found["vib_fatigue"] == pytest.approx(9 / total, rel=1e-12)
    assert round(found["vib_fatigue"], 2) == 0.23


PLAIN = {
    "braid_wear": ["crest_marks", "red_debris", "wires_worn"],
    "bend_fatigue": ["set_bend", "offset_big", "crk_circ", "loc_end"],
    "torsion_fatigue": ["crk_45", "braid_skew", "plane_out"],
    "vib_fatigue": ["crk_circ", "vib_high", "res_match", "no_set", "radius_ok"],
    "flow_vib": ["crk_circ_multi", "whistle", "vel_high"],
    "pit_internal": ["pit_id", "start_id", "stagnant"],
    "cl_scc": ["crk_branch", "cl_hot"],
    "corr_external": ["pit_od", "wires_corr", "wet_lag"],
    "abrasion_external": ["loc_contact", "braid_rub"],
    "overpressure": ["wires_tensile", "p_over", "dimples"],
    "squirm": ["squirm_shape", "loc_mid", "p_over"],
    "thermal": ["heat_tint", "temp_cyc"],
    "weld_fitting": ["loc_weld", "early"],
    "install_damage": ["wrench", "kink", "after_work"],
    "mfg_defect": ["loc_seam", "crk_long", "batch_cluster"],
    "erosion_internal": ["solids", "start_id", "elbow_up"],
    "axial_misuse": ["axial_pull", "braid_loose", "pitch_uneven"],
    "polymer_ageing": ["np_hard", "np_swell"],
    "liner_fault": ["np_fold"],
    "coupling_slip": ["np_slip", "loc_fitting"],
    "wrong_material": ["pmi_bad", "tag_swap"],
}


@pytest.mark.parametrize(("mechanism", "present"), PLAIN.items(), ids=PLAIN)
def test_plain_case_puts_its_mechanism_first(mechanism, present):
    assert leaders(*present)[0] == mechanism


def test_plain_cases_cover_every_mechanism():
    assert set(PLAIN) == set(TABLE.mechanisms)


@pytest.mark.parametrize(("present", "raised", "lowered"), [
    (["crest_marks", "red_debris"], ["braid_wear"], []),
    (["core_clean_crest"], [], ["braid_wear"]),
    (["crk_circ"], ["vib_fatigue", "bend_fatigue", "flow_vib", "braid_wear"],
     ["overpressure", "cl_scc", "pit_internal"]),
    (["crk_circ_multi"], ["flow_vib", "vib_fatigue"], ["install_damage", "weld_fitting"]),
    (["crk_long"], ["mfg_defect", "overpressure"], ["vib_fatigue", "bend_fatigue", "flow_vib"]),
    (["crk_45"], ["torsion_fatigue"], ["pit_internal"]),
    (["crk_branch"], ["cl_scc"], ["vib_fatigue", "bend_fatigue", "flow_vib"]),
    (["start_id", "pit_id"], ["pit_internal"], ["braid_wear", "abrasion_external"]),
    (["start_od"], ["braid_wear"], ["pit_internal", "erosion_internal"]),
    (["no_corr"], ["vib_fatigue", "bend_fatigue"], ["pit_internal", "corr_external", "cl_scc"]),
    (["set_bend"], ["bend_fatigue"], ["vib_fatigue"]),
    (["radius_ok"], [], ["bend_fatigue"]),
    (["wrench"], ["install_damage", "torsion_fatigue"], []),
    (["loc_contact"], ["abrasion_external"], ["vib_fatigue"]),
    (["squirm_shape"], ["squirm", "overpressure"], ["vib_fatigue"]),
    (["wires_tensile"], ["overpressure"], ["vib_fatigue"]),
    (["beach"], ["vib_fatigue", "bend_fatigue"], ["overpressure", "cl_scc"]),
    (["vib_low"], [], ["vib_fatigue"]),
    (["liner_full"], [], ["flow_vib"]),
    (["p_low"], [], ["overpressure"]),
    (["batch_cluster"], ["mfg_defect", "wrong_material"], ["vib_fatigue"]),
    (["place_repeat"], ["vib_fatigue", "bend_fatigue", "flow_vib"], ["mfg_defect"]),
])
def test_key_findings_move_the_mechanisms_they_should(present, raised, lowered):
    found = probability(*present)
    silent = found["coupling_slip"]  # no key finding bears on it
    assert all(found[name] > silent for name in raised)
    assert all(found[name] < silent for name in lowered)


@given(st.lists(st.sampled_from([-1, 0, 1]), min_size=88, max_size=88))
def test_what_is_absent_or_not_checked_moves_no_score(states):
    states = np.array([states], np.int8)
    only_present = np.where(states == PRESENT, PRESENT, 0)
    np.testing.assert_array_equal(contributions(TABLE, states), contributions(TABLE, only_present))
    found = posterior(contributions(TABLE, states).sum(axis=1), FLAT)
    assert found.sum() == pytest.approx(1.0, rel=1e-12)
    assert (found > 0.0).all()


def test_coverage_counts_what_was_answered():
    empty = coverage(SMALL, case(table=SMALL))
    np.testing.assert_array_equal(empty, 0.0)
    states = case("b1", table=SMALL, absent=["a1"])
    np.testing.assert_allclose(coverage(SMALL, states)[0], [0.5, 0.5, 0.0])
    # a2 rules a3 out, so finding a2 answers both; not finding it answers only itself.
    assert answered(SMALL, case("a2", table=SMALL))[0].tolist() == [False, True, True, False]
    assert answered(SMALL, case(table=SMALL, absent=["a2"]))[0].tolist() == [
        False, True, False, False]


def test_cap_takes_common_findings_down():
    capped = with_prevalence_cap(SMALL, [0, 49, 49, 0], [0, 90, 0, 90])
    # shares 1/10, 50/100, 50/10 and 1/100: at most 10, 2, 1 and 100 times as likely
    np.testing.assert_allclose(
        capped.weight, [[STRONG, -FAIR, 0], [np.log(2), -WEAK, 0], [0, -WEAK, 0],
                        [-FAIR, STRONG, 0]], atol=1e-12)


def test_states_of_another_table_are_refused():
    with pytest.raises(InputError, match="must have 88 columns"):
        contributions(TABLE, np.zeros((1, 3)))
    with pytest.raises(InputError, match="no finding 'loc_nowhere'"):
        TABLE.row("loc_nowhere")


def test_packaged_tables_fit_together():
    assert len(TABLE.findings) == 88
    assert len(rows("evidence")) == 290
    links = [(row["finding"], row["mechanism"]) for row in rows("evidence")]
    assert len(set(links)) == len(links)
    assert set(row["mechanism"] for row in rows("countermeasures")) == set(TABLE.mechanisms) - {
        "liner_fault"}
    assert all(row["source"] and row["status"] and row["strength_status"]
               for row in rows("evidence"))
    assert (TABLE.rules_out == TABLE.rules_out.T).all()
    assert not TABLE.rules_out.diagonal().any()
    assert "; " not in " ".join(row["words"] for row in rows("findings"))
