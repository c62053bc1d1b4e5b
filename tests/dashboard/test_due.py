"""Planned work on the pages: this month's list, the age of a place, demand with planned changes."""

import datetime as dt

import pytest

from dashboard import words
from dashboard.parts import due as parts_due
from tests.dashboard.edition_maker import tables
from tests.dashboard.page_reader import words as shown

FULL = tables("full")
BASE = {
    "n_failures": 6, "n_suspensions": 4, "verdict": "pays", "preventive_age_days": 412.0,
    "flat_from_days": 330.0, "flat_to_days": 535.0, "failing_before_probability": 0.41,
    "saving_per_year": 210.0, "saving_per_year_lower": -12.0, "saving_per_year_upper": 390.0,
    "saving_probability": 0.94, "cost_per_planned_change": 990.0, "cost_per_failure": 3000.0,
}
PLACE = BASE | {
    "reason": "changing at 412 days costs least", "planned_on": dt.date(2026, 12, 14),
    "is_overdue": False, "shutdown_first_on": None, "shutdown_last_on": None, "age_days": 300.0,
}
NONE = BASE | {
    "verdict": "a saving is not likely enough", "preventive_age_days": None,
    "flat_from_days": None, "flat_to_days": None, "failing_before_probability": None,
}


def said(row):
    return " ".join(parts_due.age_words(row, "GBP")).replace(words.SPACE, " ")


def test_a_place_says_age_day_saving_with_range_and_what_the_age_is_not():
    text = said(PLACE)
    assert "Changing at 412 days costs least." in text
    assert "Due 14 Dec 2026; the hose there is 300 days old." in text
    assert "saves £ 210 a year (−12 to 390); a chance of 94 % that it saves at all" in text
    assert "A planned change costs £ 990; a failure costs £ 3,000." in text
    registered = said(PLACE | {"planned_cost_origin": "register"})
    assert "the planned cost is by the register, without labour" in registered
    assert "41 % of new hoses fail before that age: it is no safe life" in text


def test_a_shutdown_and_an_age_already_past_are_said():
    window = {"shutdown_first_on": dt.date(2026, 12, 14), "shutdown_last_on": dt.date(2026, 12, 18)}
    assert "in the shutdown of 14 to 18 Dec 2026" in said(PLACE | window)
    window["shutdown_last_on"] = dt.date(2027, 1, 3)
    assert "in the shutdown of 14 Dec 2026 to 3 Jan 2027" in said(PLACE | window)
    assert "past that age: change it at the next chance" in said(PLACE | {"is_overdue": True})


def test_no_age_gives_the_sentence_why_and_never_a_safe_life():
    text = said(NONE)
    assert "No preventive age pays: a saving is not likely enough." in text
    assert "Even the best age saves £ 210 a year (−12 to 390)" in text
    assert "safe life" not in text
    unknown = NONE | {"saving_per_year": None, "cost_per_planned_change": None}
    assert "What a planned change costs is not known; a failure costs" in said(unknown)
    assert "None" not in said(unknown)
    assert "nan" not in said(unknown).lower()


def test_the_months_list_groups_by_line_and_hands_out_the_work_list(full):
    text = full.text("/")
    soon = [row for row in FULL["due"] if row["due_on"] <= dt.date(2027, 1, 31)]
    assert f"{len(soon)} hoses, about" in text
    assert "Due in the next three months" in text
    assert "in the shutdown of 14 to 18 Dec 2026" in text.replace(words.SPACE, " ")
    assert "the site requires a change within 365 days (toxic)" in text
    assert "Before this work:" in text
    assert "zero" in text
    for kind in ("csv", "xlsx"):
        assert full.client.get(f"/download/due.{kind}").status_code == 200


def test_the_download_of_the_due_list_holds_every_row(full):
    lines = full.client.get("/download/due.csv").get_data(as_text=True).strip().splitlines()
    assert len(lines) == 1 + len(FULL["due"])
    assert lines[0].lstrip("\ufeff").startswith("due_on,due_month,service_point,part_number,reason")


@pytest.mark.parametrize(("n_set", "n_hoses", "wanted"), [
    (0, 0, "No hose is in service."), (0, 5, "No age pays at any place"), (3, 5, "Nothing; ")])
def test_an_empty_list_says_why(n_set, n_hoses, wanted):
    year = {"n_due": 0, "expected": None, "all_work": None, "cost": None, "n_set": n_set,
            "n_hoses": n_hoses}
    block = parts_due.due_list([], year, None, "GBP").to_plotly_json()
    assert wanted in " ".join(shown(_plain(block)))


def _plain(node):
    if isinstance(node, (list, tuple)):
        return [_plain(item) for item in node]
    if hasattr(node, "to_plotly_json"):
        return _plain(node.to_plotly_json())
    if isinstance(node, dict):
        return {key: _plain(value) for key, value in node.items()}
    return node


def test_a_place_shows_its_age_or_why_none(full):
    for row in FULL["replacement_ages"][:8]:
        text = full.text(f"/places/{row['service_point']}").replace(words.SPACE, " ")
        assert "When to change it before it fails" in text
        wanted = row["reason"][0].upper() + row["reason"][1:]
        assert wanted in text


def test_spares_say_how_much_of_the_demand_is_planned(full):
    rows = {row["part_number"]: row for row in FULL["spares"]}
    for name, row in list(rows.items())[:6]:
        text = full.text(f"/spares?part={name}")
        wanted = ("No planned change falls due here" if row["planned_12_months"] < 0.05
                  else "are planned changes")
        assert wanted in text


def test_empty_edition_shows_words(empty):
    assert "No place is on record yet" in empty.text("/")


def test_hostile_names_stay_text(hostile):
    layout = hostile.text("/")
    assert "Due in the next three months" in layout


def test_a_kind_shows_its_age_or_why_none(full):
    for row in FULL["preventive_ages"][:4]:
        text = full.text(f"/lives/{row['application_class']}/{row['construction']}")
        assert "When to change it before it fails" in text
        wanted = ("Changing at 412" if row["preventive_age_days"] else
                  f"No preventive age pays: {row['verdict']}.")
        assert wanted in text
        assert "Before this work:" in text


def test_the_month_says_what_the_plan_prevents_with_its_range_and_what_it_adds(full, empty):
    text = " ".join(full.text("/").split())
    assert "What this plan prevents" in text
    assert "6.0 of 110 3.6 to 9.6" in text
    assert "18 more than without the plan" in text
    assert "failures are about 7 % more" in text
    mine = [row for row in FULL["due"] if row["method"] == "preventive age"]
    saving = sum(row["saving_per_year"] for row in mine)
    assert 0 < len(mine) < len(FULL["due"])  # those that a rule asks for are not planned for cost
    assert f"in the long run the {len(mine)} changes planned for their cost save" in text
    assert f"{words.money(saving, 'GBP')} a year" in full.text("/")
    assert "What this plan prevents" not in empty.text("/")


def test_changes_of_hoses_put_in_meanwhile_are_told_where_ages_are_short():
    year = {"n_due": 3, "expected": 2.6, "all_work": 5.2, "cost": None, "is_late": False}
    said = parts_due.year_words(year, "GBP")
    assert said == ("3 changes within twelve months; about 2.6 hoses will still be running on "
                    "their day, and about 2.6 more will be changed that are put in meanwhile.")
    assert "meanwhile" not in parts_due.year_words(year | {"all_work": 2.6}, "GBP")
