"""A later row of the same key takes the place of an earlier one, and both are accounted for."""

from __future__ import annotations

import pytest

from etl.load.warehouse import run_sql
from tests.sql.tiny import ONE_PLACE, build, refused, rows

HEAD = "installed_on,service_point,hose_id,work_order"
A, B = "2020-01-01,P1,H,first", "2020-01-01,P1,H,second"


def versions(*files: str, days: tuple[str | None, ...] = (), head: str = HEAD):
    """Load installations from one text a file; `days` are their days of export."""
    loads = [{}] + [{"exported_on": exported_on} for exported_on in days]
    return build(service_points=ONE_PLACE, installations=[f"{head}\n{file}" for file in files],
                 loads=loads)


def kept(con):
    return rows(con, "select load_id, source_row, work_order from clean.installations order by all")


def set_aside(con):
    return rows(con, "select load_id, source_row, cause from clean.superseded order by all")


def test_later_file_corrects_a_row():
    con = versions(A, B)
    assert kept(con) == [(3, 2, "second")]
    assert set_aside(con) == [(2, 2, "corrected")]
    assert refused(con) == []


def test_export_day_says_which_file_is_later():
    con = versions(A, B, days=("2024-02-01", "2024-01-01"))
    assert kept(con) == [(2, 2, "first")]
    assert set_aside(con) == [(3, 2, "corrected")]


def test_the_same_row_in_a_later_file_changes_nothing():
    con = versions(A, A)
    assert kept(con) == [(2, 2, "first")]
    assert set_aside(con) == [(3, 2, "repeat")]


def test_the_same_row_twice_in_a_file_counts_once():
    con = versions(f"{A}\n{A}")
    assert kept(con) == [(2, 2, "first")]
    assert set_aside(con) == [(2, 3, "repeat")]


def test_rows_as_loaded_of_whole_exports_list_each_row_once_and_every_correction():
    con = versions(A, A, f"{B}\n{A.replace('H', 'G')}", A)
    run_sql(con, "results/10_log_rows")
    assert rows(con, "select source_file, source_row, fate from results.log_rows "
                     "where log = 'installations' order by all") == [
        ("installations_2.csv", 2, "superseded"), ("installations_4.csv", 2, "superseded"),
        ("installations_4.csv", 3, "used"), ("installations_5.csv", 2, "used")]
    assert (3, 2, "repeat") in set_aside(con)


def test_cells_written_differently_but_equal_are_the_same_row():
    con = versions(A, "2020-01-01 00:00,P1, H ,first")
    assert set_aside(con) == [(3, 2, "repeat")]


def test_rows_of_one_key_that_differ_within_a_file_are_both_refused():
    con = versions(f"{A}\n{B}")
    reason = "rows of one key disagree within one file"
    key = "row_id or service_point, installed_on, hose_id"
    assert kept(con) == []
    assert refused(con) == [("installations", 2, key, "rows 2, 3", reason),
                            ("installations", 3, key, "rows 2, 3", reason)]


def test_of_many_rows_of_one_key_the_first_are_named_and_the_rest_counted():
    """Each of thousands would else list thousands, which fills any memory."""
    con = versions("\n".join(f"2020-01-01,P1,H,note {number}" for number in range(30)))
    assert {value for *_, value, _ in refused(con)} == {
        "rows 2, 3, 4, 5, 6, 7, 8, 9, 10, 11 and 20 more"}
    assert len(refused(con)) == 30


def test_a_conflict_leaves_the_earlier_row_in_force():
    con = versions(A, f"{B}\n2020-01-01,P1,H,third")
    assert kept(con) == [(2, 2, "first")]


def test_a_row_with_a_fault_does_not_take_the_place_of_a_good_one():
    con = versions(A + ",", "2020-01-01,P1,H,second,many", head=HEAD + ",age_at_installation")
    assert kept(con) == [(2, 2, "first")]
    assert refused(con) == [
        ("installations", 2, "age_at_installation", "many", "is not a number")]


def test_empty_key_cells_are_equal():
    con = versions("2020-01-01,P1,,first", "2020-01-01,P1,,second")
    assert kept(con) == [(3, 2, "second")]


@pytest.mark.parametrize(("files", "expected"), [
    pytest.param((A + ",", A + ",yes"), [(2, 2, "deleted"), (3, 2, "deleted")], id="taken back"),
    pytest.param((A + ",", B + ",", A + ",yes"),
                 [(2, 2, "corrected"), (3, 2, "deleted"), (4, 2, "deleted")], id="corrected"),
    pytest.param((A + ",", A + ",yes", B + ",yes"),
                 [(2, 2, "corrected"), (3, 2, "deleted"), (4, 2, "deleted")], id="twice"),
])
def test_row_marked_deleted_takes_its_key_back(files, expected):
    con = versions(*files, head=HEAD + ",deleted")
    assert kept(con) == []
    assert set_aside(con) == expected
    assert refused(con) == []


@pytest.mark.parametrize(("head", "files", "expected"), [
    pytest.param("", (A + ",", "2020-01-01,P1,G,first,yes"), [(3, 2)], id="another tag"),
    pytest.param("", (f"{A},\n2020-01-02,P1,H,first,yes",), [(2, 3)], id="another day, same file"),
    pytest.param(",row_id", (A + ",,7", A + ",yes,"), [(3, 2)], id="keyed by number, taken by day"),
    pytest.param(",row_id", (A + ",,7", ",,,,yes,8", ",,,,yes,8"), [(3, 2)], id="said again"),
    pytest.param(",row_id", (A + ",,7", ",,,,yes,8", A + ",yes,8"), [(3, 2), (4, 2)],
                 id="another number"),
])
def test_a_row_that_takes_back_nothing_is_found_and_the_others_stand(head, files, expected):
    con = versions(*files, head=f"{HEAD},deleted{head}")
    assert kept(con) == [(2, 2, "first")]
    assert refused(con) == []
    assert rows(con, "select load_id, source_row from clean.superseded "
                     "where cause = 'deletes nothing' order by all") == expected
    assert rows(con, "select load_id, source_row from lives.findings "
                     "where finding = 'nothing to take back' order by all") == expected


def test_row_that_comes_again_after_it_was_deleted_stands():
    con = versions(A + ",", A + ",yes", B + ",", head=HEAD + ",deleted")
    assert kept(con) == [(4, 2, "second")]


def test_row_id_is_the_key_so_that_a_day_can_be_corrected():
    con = versions("2020-01-01,P1,H,first,7", "2020-03-01,P1,H,first,7", head=HEAD + ",row_id")
    assert rows(con, "select installed_on::varchar, row_id from clean.installations") == [
        ("2020-03-01", "7")]
    assert set_aside(con) == [(2, 2, "corrected")]


def test_deleting_by_row_id_needs_no_other_cell():
    con = versions("2020-01-01,P1,H,first,7,", ",,,,7,yes", head=HEAD + ",row_id,deleted")
    assert kept(con) == []
    assert refused(con) == []


def test_registers_are_keyed_by_name_even_with_a_row_id():
    con = build(service_points=["service_point,application_class,row_id\nP1,steam,1",
                                "service_point,application_class,row_id\nP1,water,2"])
    assert rows(con, "select service_point, application_class from clean.service_points") == [
        ("P1", "water")]


def test_key_that_returns_to_an_earlier_value_is_a_finding():
    con = versions(A, B, A)
    assert kept(con) == [(4, 2, "first")]
    assert set_aside(con) == [(2, 2, "corrected"), (3, 2, "corrected")]
    assert rows(con, "select finding, load_id, source_row from lives.findings") == [
        ("returned to an earlier value", 4, 2)]


def test_corrected_once_is_no_finding():
    assert rows(versions(A, B), "select * from lives.findings") == []


def test_reason_of_a_removal_can_be_corrected():
    head = "removed_on,service_point,reason,hose_id\n"
    con = build(service_points=ONE_PLACE, replacements=[
        head + "2020-05-01,P1,planned,H", head + "2020-05-01,P1,failed,H"])
    assert rows(con, "select reason from clean.replacements") == [("failed",)]


def test_register_of_constructions_has_one_row_a_diameter():
    con = build(service_points=ONE_PLACE, constructions=
                "construction,dn,rated_pressure_bar\nC1,25,100\nC1,50,60")
    assert rows(con, "select construction, dn from clean.constructions order by dn") == [
        ("C1", 25), ("C1", 50)]
