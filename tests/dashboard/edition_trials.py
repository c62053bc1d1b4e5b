"""Trials of the invented edition: plans, groups that need none, a running and a decided trial."""

from __future__ import annotations

import datetime as dt

from tests.dashboard.edition_fleet import AS_OF, MECHANISMS, Row

SCHEMA = """
create table trial_candidates (rank integer, service_point varchar, trial varchar, mate varchar,
    mechanism varchar, expected_failures_12_months double, expected_cost double,
    present_construction varchar, flexible_construction varchar, flexible_reason varchar,
    stiff_construction varchar, stiff_reason varchar, stiffness_ratio double, mass_ratio double,
    months_to_ten_failures double, reason varchar, cautions varchar, verdict varchar,
    verdict_reason varchar, value double, value_unit varchar, value_with double, value_without
    double, n_like_places integer, n_pairs_possible integer, n_pairs integer, n_hoses double,
    months integer, planned_failures double, expected_failures_trial double,
    right_choice_probability double, shown_probability double, wrong_claim_probability double,
    months_to_claim double, life_ratio double, life_ratio_lower double, life_ratio_upper double,
    life_ratio_basis varchar, early_failure_limit double, rule varchar);
create table trial_sizes (service_point varchar, n_pairs integer, months integer,
    right_choice_probability double, expected_failures double, is_planned boolean);
create table trial_screens (service_point varchar, arm varchar, construction varchar, screen
    varchar, value double, lower double, upper double, limit_value double, unit varchar, ratio
    double, source varchar, status varchar);
create table trial_log_rows (candidate varchar, trial varchar, service_point varchar, arm
    varchar, construction varchar, started_on date, pair varchar, pair_shares varchar,
    expected_failures_12_months double, planned_end_on date, planned_failures double,
    early_failure_limit double, expected_life_ratio double, expected_life_ratio_log_sd double,
    coin_seed bigint, rule varchar);
create table trial_verdicts (trial varchar, application_class varchar, construction varchar,
    is_adopted boolean, decision varchar, decided_on date);
create table trial_states (trial varchar, application_class varchar, first_arm varchar,
    second_arm varchar, first_construction varchar, second_construction varchar, started_on
    date, ended_on date, planned_end_on date, decision varchar, is_running boolean, n_pairs
    integer, n_places integer, n_unpaired integer, is_registered boolean, is_hazardous boolean,
    first_hoses integer, second_hoses integer, first_days double, second_days double,
    first_failures double, second_failures double, first_expected double, second_expected
    double, first_early double, second_early double, early_failure_limit double, stopped_arm
    varchar, planned_failures double, n_looks integer, last_look_on date, next_look_on date,
    statistic double, boundary double, error_spent double, claimed_on date, life_ratio double,
    life_ratio_lower double, life_ratio_upper double, second_longer_probability double,
    treated_life_ratio double, treated_life_ratio_lower double, treated_life_ratio_upper double,
    unknown_failed_life_ratio double, n_unknown_reason integer, n_misfitted integer, coin_seed
    bigint, state varchar, words varchar, warnings varchar, rule varchar);
create table trial_looks (trial varchar, look_on date, first_failures double, second_failures
    double, statistic double, boundary double, life_ratio double, life_ratio_lower double,
    life_ratio_upper double, second_longer_probability double);
create table trial_stays (trial varchar, pair varchar, service_point varchar, arm varchar,
    assigned_construction varchar, construction varchar, is_as_assigned boolean, hose_id
    varchar, installed_on date, ended_on date, is_over boolean, is_failure boolean, life_id
    bigint);
"""
RULE = ("Safety: an arm stops when it has 2 or more failures before 90 days. Claim: a difference "
        "is claimed only by the sign-flip test inside pairs. Choice: at the end, 31 Jan 2028, "
        "the arm that the posterior expects to cost less. The trial is not made longer.")
ARMS = {"flexible": "C-316-CP1", "stiff": "C-321-OP2H"}
WORTH = ("worth a trial", "worth a trial", "not worth a trial", "switch without a trial",
         "too few failures to learn")


def trials(places: list[Row]) -> dict[str, list[Row]]:
    """Return five candidates, three of them with a plan, and two registered trials."""
    fitted = [place for place in places if place["hose_id"]]
    out = {"trial_candidates": [_candidate(i, place, places[i + 6]) for i, place in
                                enumerate(fitted[:5])],
           "trials": _registered(places)}
    planned = [row for row in out["trial_candidates"] if row["n_pairs"] is not None]
    out["trial_sizes"] = [
        {"service_point": row["service_point"], "n_pairs": pairs, "months": months,
         "right_choice_probability": 0.55 + 0.03 * pairs + 0.003 * months,
         "expected_failures": 0.1 * pairs * months, "is_planned": (pairs, months) == (6, 24)}
        for row in planned for pairs in range(1, 9) for months in range(6, 61, 6)]
    out["trial_screens"] = [item for row in planned[:1] for item in _screens(row)]
    out["trial_log_rows"] = [item for row in planned for item in _log_rows(row, fitted)]
    out["trial_verdicts"] = [
        {"trial": "T-2", "application_class": "homogeniser discharge", "construction": name,
         "is_adopted": arm == "stiff", "decision": "stiffer outlasts",
         "decided_on": dt.date(2026, 3, 31)} for arm, name in ARMS.items()]
    pairs = list(zip(fitted[8:20:2], fitted[9:20:2], strict=True))
    out["trial_stays"] = [stay for number, pair in enumerate(pairs)
                          for stay in _stays(number, pair)]
    out["trial_looks"] = _looks()
    out["trial_states"] = [_state("T-1", out["trial_stays"]), _state("T-2", [])]
    return out


def _candidate(i: int, place: Row, mate: Row) -> Row:
    is_planned = i < 3
    return {
        "rank": i + 1, "service_point": place["service_point"],
        "trial": f"Trial at {place['service_point']}", "mate": mate["service_point"],
        "mechanism": MECHANISMS[i % 4], "expected_failures_12_months": 1.9 - 0.2 * i,
        "expected_cost": 8000.0 - 900 * i, "present_construction": place["construction"],
        "flexible_construction": "C-316-CP1", "flexible_reason": "softest that holds 62 bar",
        "stiff_construction": None if i == 4 else "C-321-OP2H",
        "stiff_reason": None if i == 4 else "heaviest that still bends to 210 mm",
        "stiffness_ratio": None if i == 4 else 3.1, "mass_ratio": None if i == 4 else 1.8,
        "months_to_ten_failures": 14.0 + 6 * i, "reason": "vibration concluded in 3 of 4",
        "cautions": "A qualified person confirms rating.", "verdict": WORTH[i],
        "verdict_reason": "too few hoses fail" if i == 4 else "it says so",
        "value": 4200.0 - 2500 * i, "value_unit": "reporting currency",
        "value_with": 5000.0, "value_without": 9000.0 if i == 3 else 0.0, "n_like_places": 16,
        "n_pairs_possible": 8, "n_pairs": 6 if is_planned else None,
        "n_hoses": 26.4 if is_planned else None, "months": 24 if is_planned else None,
        "planned_failures": 13.0 if is_planned else None,
        "expected_failures_trial": 14.4 if is_planned else None,
        "right_choice_probability": 0.802 if is_planned else None,
        "shown_probability": (0.0 if i else 0.21) if is_planned else None,
        "wrong_claim_probability": 0.004 if is_planned else None,
        "months_to_claim": 17.0 if i == 0 else None, "life_ratio": 1.1, "life_ratio_lower": 0.6,
        "life_ratio_upper": 2.0, "life_ratio_basis": "hoses of both constructions in this class",
        "early_failure_limit": 0.12 if is_planned else None, "rule": RULE if is_planned else None,
    }


def _screens(row: Row) -> list[Row]:
    values = {"stiffness": (30.0, None, None, None, "N m²", None),
              "mass": (2.4, None, None, None, "kg/m", None),
              "rating": (38.0, None, None, 74.0, "bar", 38.0 / 74.0),
              "bend": (430.0, None, None, 185.0, "mm", 2.3),
              "frequency": (20.0, 17.0, 29.0, 24.0, "Hz", 0.83)}
    return [
        {"service_point": row["service_point"], "arm": arm, "construction": construction,
         "screen": screen, "value": value, "lower": lower, "upper": upper, "limit_value": limit,
         "unit": unit, "ratio": ratio, "source": "catalogue", "status": "as recorded"}
        for arm, construction in ARMS.items()
        for screen, (value, lower, upper, limit, unit, ratio) in values.items()
        if not (arm == "stiff" and screen == "bend")]


def _log_rows(row: Row, fitted: list[Row]) -> list[Row]:
    return [
        {"candidate": row["service_point"], "trial": row["trial"],
         "service_point": fitted[2 * pair + side]["service_point"], "arm": arm,
         "construction": ARMS[arm], "started_on": dt.date(2026, 11, 1), "pair": f"{pair + 1:02d}",
         "pair_shares": ("equipment", "line", "site")[pair % 3],
         "expected_failures_12_months": 0.8, "planned_end_on": dt.date(2028, 10, 31),
         "planned_failures": 13.0, "early_failure_limit": 0.12, "expected_life_ratio": 1.1,
         "expected_life_ratio_log_sd": 0.4, "coin_seed": 20_260_101, "rule": RULE}
        for pair in range(6) for side, arm in enumerate(ARMS)]


def _registered(places: list[Row]) -> list[Row]:
    return [
        {"trial": trial, "service_point": places[0]["service_point"], "arm": arm,
         "construction": construction, "state": state, "started_on": dt.date(2025, 2, 1),
         "ended_on": ended, "n_hoses": 5, "n_failures": failed, "days_in_service": 900.0,
         "decision": state.partition(": ")[2] or None, "pair": "01", "rule": RULE,
         "decision_reason": "fewer failures" if ended else None,
         "entered_by": "Ann" if ended else None,
         "entered_at": "2026-04-01T08:00:00+00:00" if ended else None}
        for trial, state, ended in (("T-1", "running", None),
                                    ("T-2", "decided: stiffer outlasts", dt.date(2026, 3, 31)))
        for arm, construction, failed in (("flexible", "C-316-CP1", 4), ("stiff", "C-321-OP2H", 1))
    ]


def _stays(number: int, pair: tuple[Row, Row]) -> list[Row]:
    """Return the hoses of a pair: the flexible arm fails once, one hose is a mistake."""
    out: list[Row] = []
    for side, (arm, construction) in enumerate(ARMS.items()):
        cut = dt.date(2025, 9, 1) + dt.timedelta(days=31 * number)
        spans = [(dt.date(2025, 2, 1), cut, True), (cut, AS_OF, False)] if side == 0 else [
            (dt.date(2025, 2, 3), AS_OF, False)]
        for at, (begin, end, failed) in enumerate(spans):
            wrong = number == 2 and side == 0 and at == 1
            out.append({
                "trial": "T-1", "pair": f"{number + 1:02d}",
                "service_point": pair[side]["service_point"], "arm": arm,
                "assigned_construction": construction,
                "construction": "C-321-OP2H" if wrong else construction,
                "is_as_assigned": not wrong, "hose_id": f"H-{number}{side}{at}",
                "installed_on": begin, "ended_on": end, "is_over": failed, "is_failure": failed,
                "life_id": 100 * number + 10 * side + at})
    return out


def _looks() -> list[Row]:
    return [
        {"trial": "T-1", "look_on": dt.date(2025 + month // 12, month % 12 + 1, 28),
         "first_failures": float(max(0, month - 8)), "second_failures": 0.0,
         "statistic": -0.5 * max(0, month - 8), "boundary": 3.5 if month > 10 else None,
         "life_ratio": 1.0 + 0.05 * month, "life_ratio_lower": 0.5 + 0.02 * month,
         "life_ratio_upper": 2.0 + 0.08 * month, "second_longer_probability": 0.6}
        for month in range(2, 14)]


def _state(trial: str, stays: list[Row]) -> Row:
    """Return the state of a trial; without stays it was never looked at."""
    is_running = bool(stays)
    row: Row = {
        "trial": trial, "application_class": "homogeniser discharge", "first_arm": "flexible",
        "second_arm": "stiff", "first_construction": "C-316-CP1",
        "second_construction": "C-321-OP2H", "started_on": dt.date(2025, 2, 1),
        "ended_on": None if is_running else dt.date(2026, 3, 31),
        "planned_end_on": dt.date(2028, 1, 31) if is_running else None,
        "decision": None if is_running else "stiffer outlasts", "is_running": is_running,
        "n_pairs": 6 if is_running else 0, "n_places": 12, "is_registered": is_running,
        "is_hazardous": False, "coin_seed": 20_260_101 if is_running else None,
        "rule": RULE if is_running else "No rule was fixed before the start.",
        "state": "favoured" if is_running else "decided",
        "words": "stiff favoured (92 %), not shown: the difference is not beyond the limit fixed "
        "beforehand."
        if is_running else "Decided: stiffer outlasts."}
    if not is_running:
        return row
    return row | {
        "n_unpaired": 0, "first_hoses": 12, "second_hoses": 6, "first_days": 3800.0,
        "second_days": 3820.0, "first_failures": 6.0, "second_failures": 0.0,
        "first_expected": 3.1, "second_expected": 3.2, "first_early": 0.0, "second_early": 0.0,
        "early_failure_limit": 0.12, "planned_failures": 13.0, "n_looks": 12,
        "last_look_on": AS_OF, "next_look_on": dt.date(2026, 11, 30), "statistic": -2.5,
        "boundary": 3.5, "error_spent": 0.008, "life_ratio": 1.6, "life_ratio_lower": 0.9,
        "life_ratio_upper": 2.9, "second_longer_probability": 0.92, "treated_life_ratio": 1.5,
        "treated_life_ratio_lower": 0.8, "treated_life_ratio_upper": 2.8,
        "unknown_failed_life_ratio": 1.4, "n_unknown_reason": 1, "n_misfitted": 1}
