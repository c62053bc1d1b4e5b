"""Plans of the demo edition: coins, verdicts, arms, and a plan that comes back as a trial."""

import datetime as dt

import pytest

from etl.build.trial.register import registered_trials
from etl.decide.trial.pairs import Pair, second_arm_is_on_second
from tests.sql.tiny import build

HEAD = ("trial", "service_point", "arm", "construction", "started_on", "pair", "planned_end_on",
        "planned_failures", "early_failure_limit", "expected_life_ratio",
        "expected_life_ratio_log_sd", "coin_seed", "rule")


def table(edition, query):
    result = edition.execute(query)
    names = [column[0] for column in result.description]
    return [dict(zip(names, row, strict=True)) for row in result.fetchall()]


def test_anybody_can_toss_the_published_coins_again(edition):
    rows = table(edition, "select * from trial_log_rows order by candidate, pair, "
                          "expected_failures_12_months desc, service_point")
    assert len(rows) >= 12
    for first, second in zip(rows[::2], rows[1::2], strict=True):
        assert first["pair"] == second["pair"]
        pair = Pair(first["service_point"], second["service_point"], first["pair_shares"], 0.0)
        swap = second_arm_is_on_second(first["trial"], pair, first["coin_seed"])
        assert second["arm"] == ("stiff" if swap else "flexible")
        assert first["expected_life_ratio"] * second["expected_life_ratio"] == pytest.approx(
            1.0, rel=1e-3)


def test_what_a_trial_left_out_stands_in_no_plan_and_what_it_adopted_is_an_arm(edition):
    verdicts = table(edition, "select * from trial_verdicts")
    assert {(row["construction"], row["is_adopted"]) for row in verdicts} == {
        ("C-316-CP1", False), ("C-321-OP2H", True)}
    tried = table(edition, """
        select flexible_construction, stiff_construction, present_construction, verdict, n_pairs
        from trial_candidates join service_points using (service_point)
        where application_class = 'homogeniser discharge'""")
    assert tried
    for row in tried:
        arms = {row["flexible_construction"], row["stiff_construction"]}
        assert "C-316-CP1" not in arms
        assert "C-321-OP2H" in arms
        if row["present_construction"] != "C-321-OP2H":
            assert row["verdict"] == "switch without a trial"


def test_a_plan_states_size_and_both_chances_with_its_rule(edition):
    plans = table(edition, "select * from trial_candidates where n_pairs is not null")
    assert any(row["verdict"] == "worth a trial" and row["value"] > 0 for row in plans)
    for row in plans:
        assert row["wrong_claim_probability"] <= 0.02
        assert row["right_choice_probability"] >= 0.7
        assert 2 * row["n_pairs"] <= row["n_like_places"]
        assert (row["shown_probability"] == 0.0) >= (row["n_pairs"] < 6)
        assert "Safety:" in row["rule"]


def test_the_running_trial_of_the_demo_is_watched_by_its_registered_rule(edition):
    (state,) = table(edition, "select * from trial_states where is_running")
    assert state["is_registered"]
    assert state["n_pairs"] == 8
    assert state["claimed_on"] is None
    assert state["state"] in ("favoured", "open")
    assert state["life_ratio"] > 1.0
    assert state["treated_life_ratio"] == pytest.approx(state["life_ratio"])
    assert state["next_look_on"] == dt.date(2026, 11, 30)


def test_the_decided_trial_of_the_demo_claims_nothing_it_did_not_register(edition):
    (state,) = table(edition, "select * from trial_states where not is_running")
    assert state["state"] == "decided"
    assert state["claimed_on"] is None
    assert "No rule was fixed before the start" in state["rule"]


def test_no_place_of_the_running_trial_is_due_for_its_cost(edition):
    assert table(edition, "select * from due join trials using (service_point) "
                          "where state = 'running' and method = 'preventive age'") == []
    assert table(edition, "select * from replacement_ages join trials using (service_point) "
                          "where state = 'running' and verdict = 'pays'") == []


def test_a_saved_plan_comes_back_as_a_registered_trial(edition):
    place = table(edition, "select service_point from trial_candidates where n_pairs >= 6 "
                           "order by rank limit 1")[0]["service_point"]
    rows = table(edition, f"select * from trial_log_rows where candidate = '{place}'")
    points = "\n".join(["service_point,application_class",
                        *(f"{row['service_point']},steam" for row in rows)])
    lines = [",".join(f'"{row[name]}"' for name in HEAD) for row in rows]
    con = build(dt.date(2026, 12, 31), service_points=points,
                installations="service_point,installed_on,hose_id\n"
                              f"{rows[0]['service_point']},2026-12-01,H1",
                replacements="service_point,removed_on,hose_id,reason\n",
                trials="\n".join([",".join(HEAD), *lines]))
    (trial,) = registered_trials(con, dt.date(2026, 12, 31))
    assert trial.is_registered
    assert len(trial.pairs) == len(rows) // 2
    assert trial.arms == ("flexible", "stiff")
    assert trial.row["rule"] == rows[0]["rule"]
    assert trial.row["coin_seed"] == rows[0]["coin_seed"]
