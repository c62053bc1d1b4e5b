"""Registered trials from tiny logs: claim, choice, safety stop, mistakes, verdicts, plans."""

import datetime as dt
from types import SimpleNamespace

import numpy as np
import pytest

from etl.build.edition import publish_results
from etl.build.trial.law import known_before
from etl.build.trial.plans import first_of_next_month
from etl.build.trial.register import registered_trials, stays_of
from etl.build.trial.table import decided, places_in_trial, verdicts_by_class
from etl.build.trial.watch import look_days, watch
from etl.build.trial.watch_frames import trial_row
from etl.settings import Settings
from tests.sql.tiny import build

AS_OF = dt.date(2025, 1, 1)
START = dt.date(2023, 6, 1)
ARMS = {0: ("a", "CA"), 1: ("b", "CB")}
HEAD = ("trial,service_point,arm,construction,started_on,ended_on,decision,pair,planned_end_on,"
        "planned_failures,early_failure_limit,expected_life_ratio,expected_life_ratio_log_sd")


def logs(n_pairs=8, every=110, mistakes=0, decision="", registered=True, hazards="",
         early_arm=None, reason="failed"):
    """Return logs in which arm a fails every so many days and arm b does not."""
    points, fitted, removed, trial = [], [], [], []
    for place in range(2 * n_pairs):
        name, side = f"P{place:02d}", place % 2
        arm, made = ARMS[side]
        points.append(f"{name},steam,N,L{place // 2},{hazards}")
        first = 240 + 17 * (place % 9)
        spans = [(dt.date(2021, 1, 1), first), (dt.date(2022, 3, 1), 300 + 11 * (place % 7))]
        for number, (begin, days) in enumerate(spans):
            end = begin + dt.timedelta(days=days)
            fitted.append(f"{name},h{place}o{number},CA,{begin}")
            removed.append(f"{name},h{place}o{number},{end},failed")
        begin, number = START, 0
        step = 30 if early_arm == arm else every if side == 0 else 5000
        while begin < AS_OF:
            fits = ARMS[1 - side][1] if place < mistakes else made
            fitted.append(f"{name},h{place}t{number},{fits},{begin}")
            end = begin + dt.timedelta(days=step + place)
            if end >= AS_OF:
                break
            removed.append(f"{name},h{place}t{number},{end},{reason}")
            begin, number = end, number + 1
        rule = "2026-05-31,20,0.10,1.0,0.4" if registered else ",,,,"
        pair = f"{place // 2:02d}" if registered else ""
        ended = "2024-12-01" if decision else ""
        trial.append(f"T1,{name},{arm},{made},{START},{ended},{decision},{pair},{rule}")
    return {
        "service_points": "\n".join(
            ["service_point,application_class,site,equipment,hazards", *points]),
        "installations": "\n".join(["service_point,hose_id,construction,installed_on", *fitted]),
        "replacements": "\n".join(["service_point,hose_id,removed_on,reason", *removed]),
        "trials": "\n".join([HEAD, *trial]),
    }


def watched(**changes):
    """Return the state of the trial as a dict, without the rest of a build."""
    con = build(AS_OF, **logs(**changes))
    (trial,) = registered_trials(con, AS_OF)
    nothing = SimpleNamespace(as_of=AS_OF, strata=SimpleNamespace(cell=np.array([], int)))
    found = watch(trial, stays_of(con, [trial]), nothing, Settings())
    return trial_row(trial, found, AS_OF, Settings()), con


def test_a_whole_build_publishes_the_trial_and_keeps_its_places_apart(tmp_path):
    con = build(AS_OF, **logs())
    publish_results(con, tmp_path, AS_OF, Settings())
    assert con.execute("select state from results.trial_states").fetchall() == [("shown",)]
    assert con.execute("select count(*), max(look_on) from results.trial_looks").fetchone() == (
        20, AS_OF)
    assert con.execute("select count(distinct service_point) from results.trial_stays"
                       ).fetchone() == (16,)
    assert con.execute("select count(*) from results.trial_candidates").fetchone() == (0,)
    assert con.execute("select count(*) from results.due where method = 'preventive age'"
                       ).fetchone() == (0,)
    assert len(places_in_trial(con)) == 16


def test_a_clear_difference_is_claimed_by_the_registered_rule():
    state, _ = watched()
    assert state["state"] == "shown"
    assert state["claimed_on"] is not None
    assert "b fails less" in state["words"]
    assert "likely overstated" in state["words"]
    assert state["second_failures"] == 0
    assert state["life_ratio_lower"] > 1.0
    assert state["error_spent"] <= 0.05
    assert state["next_look_on"] == dt.date(2025, 1, 31)


def test_without_a_registered_rule_nothing_is_claimed():
    state, _ = watched(registered=False)
    assert "claimed_on" not in state
    assert "statistic" not in state
    assert state["state"] == "favoured"
    assert "no rule was registered" in state["words"]
    assert "places on one machine stand for them" in state["warnings"]


def test_five_pairs_never_claim():
    state, _ = watched(n_pairs=5)
    assert "claimed_on" not in state
    assert "fewer than 6 pairs" in state["words"]


def test_mistakes_dilute_as_assigned_and_are_shown_beside_as_treated():
    state, _ = watched(mistakes=4)
    assert state["n_misfitted"] > 0
    assert state["treated_life_ratio"] != pytest.approx(state["life_ratio"], rel=0.05)
    assert "can no longer show" in state["warnings"]


def test_an_arm_that_fails_early_is_stopped_before_any_claim():
    state, _ = watched(early_arm="b")
    assert state["state"] == "safety stop"
    assert state["stopped_arm"] == "b"
    assert state["next_look_on"] is None


def test_the_first_early_failure_stops_an_arm_in_hazardous_service():
    state, _ = watched(every=89, hazards="toxic")
    assert state["stopped_arm"] == "a"
    assert "the first failure before 90 days stops its arm" in state["rule"]


def test_removals_without_a_reason_suspend_for_the_claim_and_are_told_beside_it():
    state, _ = watched(reason="unknown")
    assert state["first_failures"] == 0
    assert state["n_unknown_reason"] > 10
    assert state["unknown_failed_life_ratio"] > 1.5
    assert state["state"] == "too early"


def test_a_decision_is_read_back_for_the_choice_of_constructions():
    state, con = watched(decision="b adopted")
    assert state["state"] == "decided"
    assert not state["is_running"]
    assert verdicts_by_class(decided(con)) == {"steam": {"CA": False, "CB": True}}
    assert places_in_trial(con) == set()


def test_the_law_before_the_start_knows_nothing_of_what_came_after():
    found = []
    for every in (110, 400):
        con = build(AS_OF, **logs(every=every))
        (trial,) = registered_trials(con, AS_OF)
        before = known_before(stays_of(con, [trial]), START, Settings())
        found.append((before.law.shape, before.law.life_days, sorted(before.rate.items())))
    assert found[0] == found[1]
    assert np.isfinite(found[0][0])


def test_looks_are_month_ends_and_the_last_day():
    assert look_days(dt.date(2024, 1, 31), dt.date(2024, 3, 31)) == [
        dt.date(2024, 2, 29), dt.date(2024, 3, 31)]
    assert look_days(dt.date(2024, 1, 31), dt.date(2024, 1, 31)) == []
    assert first_of_next_month(dt.date(2026, 10, 31)) == dt.date(2026, 11, 1)
