"""Entries belong to no columns.toml: an old name in one is led on only where nothing is guessed."""

import datetime as dt

import pytest

from etl.entry.journal import append
from etl.load.typing import build_clean, build_lives
from etl.load.warehouse import files_of
from tests.load.conftest import DAY

PLACES = "service_point,application_class\n"
SEEN = "select coalesce(service_point, '') from clean.inspections order by row_no"


def build(site, mappings, *entered, register="N-1 S-1 P-2"):
    """One folder a mapping, the register beside them, and hoses seen at the places entered."""
    for number, text in enumerate(mappings):
        site.write(f"{number}/columns.toml", text and f"[renamed_places]\n{text}")
        site.write(f"{number}/parts.csv", f"part_number,construction\nN{number},c\n")
    site.write("service_points.csv", PLACES + "".join(f"{p},a\n" for p in register.split()))
    site.write("installations.csv", "installed_on,service_point\n2020-01-01,P-2\n")
    rows = [{"inspected_on": f"2021-01-{day:02}", "service_point": place, "condition": "good"}
            for day, place in enumerate(entered, start=1)]
    append(site.store, "inspections", "0123456789abcdef", "Ann", rows,
           at=dt.datetime(2022, 1, 1, tzinfo=dt.UTC))
    site.load(DAY)
    build_lives(site.con, build_clean(site.con, site.groups, dt.date(2024, 1, 1)))
    [balance] = [file for file in files_of("checks") if file.stem == "clean_balance"]
    assert site.rows(balance.read_text()) == []


def refused(site):
    return site.rows("select source_file, source_row, value, reason, remedy from clean.refused")


def test_a_name_that_two_mappings_lead_to_two_places_is_refused_with_both(site):
    build(site, ['Old = "N-1"\nP1 = "P-2"', 'Old = "S-1"\n" P1 " = "P-2"'], " Old ", "P1")
    assert refused(site) == [(
        "inspections.jsonl", 1, " Old ", "is no known service point",
        "One columns.toml leads this name to N-1, another to S-1. Enter it again under the one"
        " that is meant, or lead it to the same place in each of them and load their files again.")]
    assert site.rows(SEEN) == [("P-2",)]


@pytest.mark.parametrize("mappings", [['Old = "S-1"', 'Old = "N-1"'], ['Old = "N-1"', 'Old="S-1"']])
def test_which_mapping_came_last_says_nothing(site, mappings):
    build(site, [*mappings, 'Old = "P-2"'], "Old")
    assert "leads this name to N-1, another to P-2, another to S-1." in refused(site)[0][4]
    assert site.rows(SEEN) == []


def test_a_mapping_that_leads_the_earlier_new_name_on_does_not_disagree(site):
    build(site, ['Old = "Mid"', 'Old = "Mid"\nMid = "N-1"', 'Old = "N-1"\nMid = "N-1"'],
          "Old", "Mid")
    assert refused(site) == []
    assert site.rows(SEEN) == [("N-1",), ("N-1",)]


@pytest.mark.parametrize("mappings", [['Old = "N-1"', ""], ['Old = "N-1"', 'Old = "S-1"']])
def test_a_place_that_the_register_holds_by_that_name_stands_for_itself(site, mappings):
    build(site, mappings, "Old", "N-1", register="Old N-1 S-1 P-2")
    assert refused(site) == []
    assert site.rows(SEEN) == [("Old",), ("N-1",)]


def test_files_go_by_their_own_mapping_as_before(site):
    site.write("0/inspections.csv", "inspected_on,service_point,condition\n2021-03-01,Old,good\n")
    build(site, ['Old = "N-1"', 'Old = "S-1"'], "Old", register="Old N-1 S-1 P-2")
    assert sorted(site.rows(SEEN)) == [("N-1",), ("Old",)]
