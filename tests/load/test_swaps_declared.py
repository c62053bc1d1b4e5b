"""Swaps that the mapping declares stand whole or not at all, and never over a row of a log."""

import datetime as dt

import pytest

from etl.load.typing import build_clean, build_lives
from tests.load.conftest import DAY

PLACES = "service_point,application_class\nP-1,a\nP-2,a\nP-3,a\n"
IN = "installed_on,service_point,hose_id\n2020-01-01,P-1,A\n2020-06-01,P-2,B\n2020-07-01,P-3,C\n"
OUT = "removed_on,service_point,hose_id,reason,part_cost\n"
STAYS = {("A", "P-1"), ("B", "P-2"), ("C", "P-3")}


def swap(first, second, on="2022-01-01", hoses=None):
    named = f"hoses = {list(hoses)}\n" if hoses else ""
    return f'[[swap]]\non = {on}\nplaces = ["{first}", "{second}"]\n{named}'


def build(site, mapping, installed=IN, removed=""):
    site.write("columns.toml", mapping)
    site.write("service_points.csv", PLACES)
    site.write("installations.csv", installed)
    site.write("replacements.csv", OUT + removed)
    site.load(DAY)
    build_lives(site.con, build_clean(site.con, site.groups, dt.date(2024, 1, 1)))
    assert site.is_balanced()
    return site.rows(
        "select hose_id, service_point, removal_reason, entry_age_days, age_low_days"
        " from lives.lives order by hose_id, installed_on, coalesce(removed_on, '9999-01-01')")


def refused(site):
    return site.rows("select log, source_row, value, reason from clean.refused order by all")


@pytest.mark.parametrize("wrong", ["P-9", "P 1"])
def test_a_swap_with_a_place_that_is_not_known_moves_neither_hose(site, wrong):
    lives = build(site, swap("P-2", wrong, hoses="BA") + swap("P-1", "P-3", hoses="AC"))
    rest = "belongs to a swap of which another row is refused"
    assert refused(site) == [
        ("installations", 2, wrong, "is no known service point"), ("installations", 3, "P-2", rest),
        ("replacements", 2, "P-2", rest), ("replacements", 3, wrong, "is no known service point")]
    assert {life[:3] for life in lives} == {  # the other swap of the file stands
        ("A", "P-1", "relocated"), ("A", "P-3", "in service"), ("B", "P-2", "in service"),
        ("C", "P-3", "relocated"), ("C", "P-1", "in service")}


def test_hoses_known_by_tags_must_be_named_or_they_would_lose_their_age(site):
    lives = build(site, swap("P-1", "P-2"))
    assert {life[:2] for life in lives} == STAYS
    assert [row for row in refused(site) if row[0] == "replacements"] == [
        ("replacements", 2, "A", "has a tag by the logs, but the swap names no hoses"),
        ("replacements", 3, "B", "has a tag by the logs, but the swap names no hoses")]
    assert len(refused(site)) == 4
    assert "Name both under hoses" in site.rows(
        "select remedy from clean.refused where value = 'A'")[0][0]


def test_a_second_swap_of_a_hose_without_a_tag_names_it_as_the_first_one_did(site):
    untagged = IN.replace(",A", ",").replace(",B", ",").replace(",C", ",")
    first = swap("P-1", "P-2")
    build(site, first + swap("P-2", "P-3", "2022-02-01"), untagged)
    assert ("replacements", 4, "P-1 until 2022-01-01",
            "has a tag by the logs, but the swap names no hoses") in refused(site)
    lives = build(site, first + swap("P-2", "P-3", "2022-02-01",
                                     ("P-1 until 2022-01-01", "the third")), untagged)
    assert refused(site) == []
    assert [life[1:] for life in lives if life[0] == "P-1 until 2022-01-01"] == [
        ("P-1", "relocated", 0.0, 731.0), ("P-2", "relocated", 731.0, 762.0),
        ("P-3", "in service", 762.0, 1461.0)]


@pytest.mark.parametrize(("reason", "n_found"), [("failed", 1), ("relocated", 0)])
def test_what_a_log_says_of_the_hose_and_day_goes_over_the_declared_swap(site, reason, n_found):
    lives = build(site, swap("P-1", "P-2", hoses="AB"), removed=f"2022-01-01,P-1,A,{reason},12\n")
    assert lives[0][:3] == ("A", "P-1", reason)
    assert site.rows("select part_cost::varchar from lives.stays where hose_id = 'A'"
                     " and removed_on is not null") == [("12.00",)]
    assert site.rows("select source_file, cause from clean.superseded join raw.loads"
                     " using (load_id, entry_no)") == [("columns.toml", "corrected")]
    assert site.rows("select service_point, hose_id, source_row from lives.findings"
                     " where finding = 'swap beside a removal'") == [("P-1", "A", 2)] * n_found


@pytest.mark.parametrize("mapping", [
    pytest.param(swap("P-1", "P-2", hoses="AB") + swap("P-2", "P-3", hoses="AC"), id="in one day"),
    pytest.param(swap("P-2", "P-3", "2022-02-01", "AC") + swap("P-1", "P-2", hoses="AB"),
                 id="in two days, declared later first"),
])
def test_a_hose_that_is_swapped_twice_keeps_its_age_all_the_way(site, mapping):
    lives = build(site, mapping)
    assert refused(site) == []
    assert [life[1] for life in lives if life[0] == "A"] == ["P-1", "P-2", "P-3"]
    assert [life[4] for life in lives if life[2] == "in service"] == [1461.0, 1309.0, 1279.0]
    assert site.rows("from lives.findings") == []


@pytest.mark.parametrize("again", [swap("P-1", "P-2", hoses="AB"), swap("P-2", "P-1", hoses="BA")])
def test_a_swap_declared_twice_counts_once(site, again):
    once = build(site, swap("P-1", "P-2", hoses="AB"))
    assert build(site, again + swap("P-1", "P-2", hoses="AB")) == once
    assert refused(site) == []


REST = "belongs to a swap of which another row is refused"


@pytest.mark.parametrize(("declared", "removed", "value", "reason"), [
    pytest.param(swap("P-1", "P-2", "2020-02-01", "AB"), "", ("P-2", "B", "2020-02-01"),
                 "the hose went in only later", id="one hose went in later"),
    pytest.param(swap("P-1", "P-2", "2020-02-01", "AB") * 2, "", ("P-2", "B", "2020-02-01"),
                 "the hose went in only later", id="declared twice"),
    pytest.param(swap("P-1", "P-2", "2020-02-01", "AB"), "2020-02-01,P-2,B,failed,\n",
                 ("P-2", "B", "2020-02-01"), "the hose went in only later",
                 id="a log says the same removal"),
    pytest.param(swap("P-1", "P-2", hoses="AC"), "", ("P-2", "C", "2022-01-01"),
                 "another hose is there by the logs", id="the hose is at another place"),
])
def test_a_swap_of_which_one_removal_cannot_be_true_moves_neither_hose(
        site, declared, removed, value, reason):
    lives = build(site, declared, removed=removed)
    assert {life[:3] for life in lives} == {
        ("A", "P-1", "in service"), ("B", "P-2", "in service"), ("C", "P-3", "in service")}
    place, hose, day = value
    told = site.rows("select distinct c.service_point, c.hose_id, r.value, r.reason"
                     " from clean.refused as r join clean.replacements_cells as c"
                     " using (load_id, entry_no, source_row) where r.log = 'replacements'"
                     " and r.source_file = 'columns.toml' and r.reason <> $$" + REST + "$$")
    assert told == [(place, hose, day, reason)]
    assert site.rows("select count(*) from clean.refused where log = 'installations'"
                     f" and reason = '{REST}'") == [(2 * declared.count("[[swap]]"),)]
    assert site.rows("from clean.refused where remedy = 'Correct the row.'") == []


def test_a_swap_that_rests_on_an_untrue_one_is_refused_with_it(site):
    lives = build(site, swap("P-1", "P-2", "2020-02-01", "AB") + swap("P-2", "P-3", hoses="AC"))
    assert {life[:2] for life in lives} == STAYS
    assert site.rows("select count(*) from clean.refused where log = 'installations'") == [(4,)]


def test_a_swap_of_hoses_from_before_the_records_stands(site):
    """Nothing speaks against hoses that no log saw go in."""
    build(site, swap("P-1", "P-2", hoses="AB"), installed=IN.splitlines()[0] + "\n")
    assert refused(site) == []
