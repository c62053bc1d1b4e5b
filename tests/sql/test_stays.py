"""Installations and removals become stays; rows that cannot be true together are refused."""

from __future__ import annotations

import pytest

from tests.sql.tiny import ONE_PLACE, build, faulty, refused, rows


def logs(installed: str, removed: str = "", **more):
    """Build from rows of 'day hose' and of 'day hose reason [last_seen_good_on]' at one place."""
    went_in = [line.split() for line in installed.split(",") if line.strip()]
    came_out = [line.split() for line in removed.split(",") if line.strip()]
    con = build(
        service_points=ONE_PLACE,
        installations="\n".join(
            ["installed_on,service_point,hose_id"]
            + [f"{day},P1,{hose.strip('-')}" for day, hose in went_in]),
        replacements="\n".join(
            ["removed_on,service_point,hose_id,reason,last_seen_good_on"]
            + [f"{row[0]},P1,{row[1].strip('-')},{row[2]},{''.join(row[3:])}" for row in came_out]),
        **more)
    for check in ("lives_stays_numbered", "lives_stays_apart", "lives_rows_used_once",
                  "lives_complete", "lives_ages"):
        assert faulty(con, check) == []
    return con


def stays(con):
    """Return hose, day in, day out, reason and whether implied, of every stay in order."""
    return rows(con, "select hose_id, installed_on::varchar, removed_on::varchar, removal_reason, "
                     "is_implied from lives.stays order by stay_id")


def findings(con):
    return rows(con, "select finding, hose_id, happened_on::varchar, source_row "
                     "from lives.findings order by all")


def test_stay_ends_at_the_first_later_removal():
    con = logs("2020-01-01 A, 2020-06-01 B", "2020-05-01 A failed, 2020-09-01 B planned")
    assert stays(con) == [("A", "2020-01-01", "2020-05-01", "failed", False),
                          ("B", "2020-06-01", "2020-09-01", "planned", False)]
    assert refused(con) == []
    assert findings(con) == []


def test_stay_without_removal_is_open():
    assert stays(logs("2020-01-01 A")) == [("A", "2020-01-01", None, None, False)]


def test_exchange_on_one_day_ends_the_old_stay_and_begins_the_new():
    con = logs("2020-01-01 A, 2020-05-01 B", "2020-05-01 A failed")
    assert stays(con) == [("A", "2020-01-01", "2020-05-01", "failed", False),
                          ("B", "2020-05-01", None, None, False)]


def test_exchange_on_one_day_without_tags():
    con = logs("2020-01-01 -, 2020-05-01 -", "2020-05-01 - failed")
    assert [stay[1:4] for stay in stays(con)] == [
        ("2020-01-01", "2020-05-01", "failed"), ("2020-05-01", None, None)]


def test_installed_and_removed_on_one_day_at_an_empty_place_is_a_stay_of_zero_days():
    con = logs("2020-05-01 A", "2020-05-01 A failed")
    assert stays(con) == [("A", "2020-05-01", "2020-05-01", "failed", False)]


def test_stay_of_zero_days_between_two_others():
    con = logs("2020-01-01 A, 2020-05-01 B, 2020-05-01 C",
               "2020-05-01 A failed, 2020-05-01 B failed")
    assert stays(con) == [("A", "2020-01-01", "2020-05-01", "failed", False),
                          ("B", "2020-05-01", "2020-05-01", "failed", False),
                          ("C", "2020-05-01", None, None, False)]


def test_hose_taken_out_and_put_back_on_one_day():
    con = logs("2020-01-01 A, 2020-05-01 A", "2020-05-01 A planned, 2020-08-01 A failed")
    assert stays(con) == [("A", "2020-01-01", "2020-05-01", "planned", False),
                          ("A", "2020-05-01", "2020-08-01", "failed", False)]


def test_hose_without_tag_is_named_after_place_and_day():
    assert stays(logs("2020-01-01 -")) == [("P1 2020-01-01", "2020-01-01", None, None, False)]


def test_tag_on_the_removal_alone_names_the_hose():
    con = logs("2020-01-01 -", "2020-05-01 A failed")
    assert stays(con) == [("A", "2020-01-01", "2020-05-01", "failed", False)]


def test_second_installation_without_a_removal_ends_the_earlier_stay():
    con = logs("2020-01-01 A, 2020-06-01 B")
    assert stays(con) == [("A", "2020-01-01", "2020-06-01", "unknown", True),
                          ("B", "2020-06-01", None, None, False)]
    assert findings(con) == [("implied removal", "A", "2020-06-01", 2)]


def test_removal_without_installation_has_no_age_but_is_kept():
    con = logs("2020-06-01 B", "2020-05-01 A failed")
    assert stays(con) == [("B", "2020-06-01", None, None, False)]
    assert rows(con, "select service_point, removed_on::varchar, hose_id, removal_reason, cause "
                     "from lives.orphans") == [
        ("P1", "2020-05-01", "A", "failed", "removal without installation")]
    assert findings(con) == [("removal without installation", "A", "2020-05-01", 2)]


def test_second_removal_of_one_stay_stands_alone():
    con = logs("2020-01-01 -", "2020-05-01 - failed, 2020-07-01 - failed")
    assert [stay[1:4] for stay in stays(con)] == [("2020-01-01", "2020-05-01", "failed")]
    assert findings(con) == [("removal without installation", None, "2020-07-01", 3)]


def test_tags_that_differ_are_never_matched():
    con = logs("2020-01-01 A", "2020-05-01 B failed")
    assert stays(con) == [("A", "2020-01-01", None, None, False)]
    assert rows(con, "select hose_id, cause from lives.orphans") == [("B", "tag mismatch")]
    assert findings(con) == [("tag mismatch", "B", "2020-05-01", 2)]


def test_tags_find_their_stay_across_a_removal_without_tag():
    con = logs("2020-01-01 A", "2020-03-01 B failed, 2020-05-01 A failed")
    assert stays(con) == [("A", "2020-01-01", "2020-05-01", "failed", False)]
    assert findings(con) == [("tag mismatch", "B", "2020-03-01", 2)]


def test_removal_after_the_next_installation_is_refused_and_the_stay_ends_there():
    con = logs("2020-01-01 A, 2020-02-01 B", "2020-05-01 A failed, 2020-04-01 B planned")
    assert stays(con) == [("A", "2020-01-01", "2020-02-01", "unknown", True),
                          ("B", "2020-02-01", "2020-04-01", "planned", False)]
    assert refused(con) == [("replacements", 2, "removed_on", "2020-05-01",
                             "lies after the next installation at this place")]
    assert findings(con) == [("implied removal", "A", "2020-02-01", 2),
                             ("overlap", "A", "2020-05-01", 2)]


@pytest.mark.parametrize(("installed", "removed"), [
    pytest.param("2020-01-01 A, 2020-01-01 B", "2021-01-01 A failed, 2022-01-01 B failed",
                 id="in together, out apart"),
    pytest.param("2020-01-01 A, 2020-02-01 B", "2021-01-01 A failed", id="in apart"),
    pytest.param("2020-01-01 A, 2020-01-01 B", "2021-01-01 A planned, 2021-01-01 B planned",
                 id="in and out together")])
def test_two_hoses_at_once_are_refused_with_what_to_do(installed, removed):
    con = logs(installed, removed)
    remedies = rows(con, "select remedy from clean.refused where reason = "
                         "'lies after the next installation at this place'")
    assert remedies
    assert all("two service points: list each position" in text for text, in remedies)
    (detail,), = rows(con, "select detail from lives.findings where finding = 'implied removal'")
    assert "If both were there at once, the place is two service points." in detail


def test_two_hoses_without_tags_put_in_on_one_day_are_told_where_the_second_comes_out():
    con = logs("2020-01-01 -, 2020-01-01 -", "2021-01-01 - failed, 2022-01-01 - failed")
    assert stays(con) == [("P1 2020-01-01", "2020-01-01", "2021-01-01", "failed", False)]
    (detail,), = rows(con, "select detail from lives.findings")
    assert "Equal rows of 2020-01-01 count once: if two hoses went in then" in detail
    con = logs("2020-01-01 -", "2021-01-01 - failed, 2022-01-01 - failed")
    (detail,), = rows(con, "select detail from lives.findings")
    assert "Equal rows" not in detail


def test_positions_that_are_service_points_of_their_own_keep_both_hoses():
    con = build(
        service_points="service_point,application_class\nP1 left,steam\nP1 right,steam",
        installations="installed_on,service_point,hose_id\n"
                      "2020-01-01,P1 left,A\n2020-01-01,P1 right,B",
        replacements="removed_on,service_point,hose_id,reason\n2021-01-01,P1 left,A,failed")
    assert [stay[:2] for stay in stays(con)] == [("A", "2020-01-01"), ("B", "2020-01-01")]
    assert findings(con) == []
    assert refused(con) == []
    assert rows(con, "select service_point, hose_id from lives.in_service") == [("P1 right", "B")]


def test_finding_names_the_refused_row_that_caused_it():
    con = logs("2020-01-01 A, 2020-02-01 B", "2020-05-01 A failed, 2020-04-01 B planned")
    (detail,), = rows(con, "select detail from lives.findings where finding = 'implied removal'")
    assert detail.endswith("Probably because row 2 of replacements_3.csv was refused.")
    con = logs("2020-01-01 A, soon B", "2020-05-01 A failed, 2020-09-01 B failed")
    (detail,), = rows(con, "select detail from lives.findings")
    assert detail.endswith("Probably because row 3 of installations_2.csv was refused.")


def test_of_several_refused_rows_the_finding_names_the_first():
    con = logs("2020-01-01 A, 2020-02-01 B", ", ".join(f"soon{n} A failed" for n in range(10)))
    (detail,), = rows(con, "select detail from lives.findings where finding = 'implied removal'")
    assert detail.endswith("Probably because row 2 of replacements_3.csv was refused.")


def test_of_a_crowd_of_refused_rows_the_first_hundred_are_put_beside_gaps():
    con = logs("2020-01-01 A, 2020-02-01 B", ", ".join(f"soon{n} A failed" for n in range(150)))
    assert rows(con, "select count(*), max(row_no) - min(row_no) from lives.refused_nearby") == [
        (100, 99)]
    assert len(refused(con)) == 150
    (detail,), = rows(con, "select detail from lives.findings where finding = 'implied removal'")
    assert detail.endswith("Probably because row 2 of replacements_3.csv was refused.")


def test_removal_dated_before_its_installation_is_refused():
    con = logs("2020-05-01 A", "2020-04-01 A failed")
    assert stays(con) == [("A", "2020-05-01", None, None, False)]
    assert refused(con) == [
        ("replacements", 2, "removed_on", "2020-04-01", "the hose went in only later")]


def test_removal_before_a_later_complete_stay_of_the_same_hose_stands_alone():
    con = logs("2020-05-01 A", "2020-04-01 A planned, 2020-09-01 A failed")
    assert stays(con) == [("A", "2020-05-01", "2020-09-01", "failed", False)]
    assert refused(con) == []
    assert findings(con)[1:] == [("removal without installation", "A", "2020-04-01", 2)]


def test_last_seen_good_before_the_installation_is_refused():
    con = logs("2020-05-01 A", "2020-09-01 A found_failed 2020-04-01")
    assert stays(con) == [("A", "2020-05-01", None, None, False)]
    assert refused(con) == [
        ("replacements", 2, "last_seen_good_on", "2020-04-01", "lies before the installation")]


def test_last_seen_good_after_the_removal_is_refused():
    con = logs("2020-05-01 A", "2020-09-01 A found_failed 2020-10-01")
    assert refused(con) == [
        ("replacements", 2, "last_seen_good_on", "2020-10-01", "lies after the removal")]


@pytest.mark.parametrize(("name", "remedy"), [
    pytest.param("P9", "Add it to service_points, or correct the name.", id="unlike any"),
    pytest.param("p-1", "Write it as P1, or add it to service_points.", id="written otherwise"),
])
def test_unknown_service_point_is_refused_with_a_remedy(name, remedy):
    con = build(service_points=ONE_PLACE,
                installations=f"installed_on,service_point\n2020-01-01,{name}")
    assert refused(con) == [
        ("installations", 2, "service_point", name, "is no known service point")]
    assert rows(con, "select remedy from clean.refused") == [(remedy,)]


def test_place_whose_own_row_was_refused_is_said_so():
    con = build(service_points="service_point,application_class,records_from\nP1,steam,long ago",
                installations="installed_on,service_point\n2020-01-01,P1")
    assert rows(con, "select remedy from clean.refused where log = 'installations'") == [
        ("Correct service_points_1.csv row 2, which was refused.",)]


def test_stays_of_two_places_do_not_meet():
    con = build(
        service_points="service_point,application_class\nP1,steam\nP2,steam",
        installations="installed_on,service_point\n2020-01-01,P1\n2020-02-01,P2",
        replacements="removed_on,service_point,reason\n2020-03-01,P2,failed")
    assert rows(con, "select service_point, removed_on::varchar from lives.stays "
                     "order by stay_id") == [("P1", None), ("P2", "2020-03-01")]


def test_cells_of_both_rows_reach_the_stay():
    con = build(
        service_points=ONE_PLACE,
        parts="part_number,construction\nK1,C1",
        installations="installed_on,service_point,hose_id,part_number\n2020-01-01,P1,A,K1",
        replacements="removed_on,service_point,reason,part_cost,labour_cost,other_cost,downtime_h,"
                     "mechanism\n2020-05-01,P1,failed,10,20.5,3,1.25,braid_wear")
    assert rows(con, """
        select construction, part_number, part_cost::double, labour_cost::double,
            other_cost::double, downtime_h, mechanism, installation_load_id,
            installation_row, removal_load_id, removal_row
        from lives.stays""") == [
        ("C1", "K1", 10.0, 20.5, 3.0, 1.25, "braid_wear", 3, 2, 4, 2)]


def test_a_hose_that_lasted_no_day_stands_before_the_one_that_stayed():
    con = logs("2020-05-01 B, 2020-05-01 -", "2020-05-01 - failed")
    assert [stay[1:4] for stay in stays(con)] == [
        ("2020-05-01", "2020-05-01", "failed"), ("2020-05-01", None, None)]
