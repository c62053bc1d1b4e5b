"""Several findings, inspections or costs of one removal make neither more lives nor more cost.

Kind of pandas-dev/pandas #46795 and #47707 (a join of tables with repeated keys).
"""

from __future__ import annotations

from decimal import Decimal

from tests.sql.tiny import ONE_PLACE, build, refused, rows

IN = "installed_on,service_point,hose_id\n2020-01-01,P1,H1\n2021-01-01,P1,H2\n"
OUT = ("removed_on,service_point,reason,hose_id,part_cost,labour_cost,work_order\n"
       "2021-01-01,P1,failed,H1,120,230,W1\n")
FINDINGS = ("examined_on,hose_id,service_point,removed_on,finding\n"
            + "".join(f"2021-01-0{n},H1,P1,2021-01-01,{word}\n"
                      for n in (5, 6) for word in ("braid wear", "cover crack", "scratch")))
LOOKED_AT = ("inspected_on,service_point,condition\n2020-06-01,P1,good\n2020-06-01,P1,worn\n"
             "2020-07-01,P1,good\n")
PARTS = "part_number,construction,dn\nN1,c1,25\n"
BUILT = "construction,dn,plies\nc1,25,1\nc1,50,2\n"


def costs(con):
    return rows(con, "select hose_id, part_cost, labour_cost from lives.stays "
                     "where removed_on is not null order by stay_id")


def test_six_findings_and_three_inspections_leave_one_life_at_its_cost():
    con = build(service_points=ONE_PLACE, installations=IN, replacements=OUT,
                teardowns=FINDINGS, inspections=LOOKED_AT)
    assert rows(con, "select count(*) from clean.teardowns") == [(6,)]
    assert rows(con, "select count(*) from lives.lives") == [(2,)]
    assert costs(con) == [("H1", Decimal(120), Decimal(230))]


def test_a_part_of_a_construction_with_several_diameters_makes_one_life():
    con = build(service_points=ONE_PLACE, parts=PARTS, constructions=BUILT, replacements=OUT,
                installations="installed_on,service_point,hose_id,part_number\n"
                              "2020-01-01,P1,H1,N1\n2021-01-01,P1,H2,N1\n")
    assert rows(con, "select hose_id, construction from lives.lives order by life_id") == [
        ("H1", "c1"), ("H2", "c1")]


def test_the_same_row_in_three_files_counts_its_cost_once():
    con = build(service_points=ONE_PLACE, installations=[IN, IN], replacements=[OUT, OUT, OUT])
    assert costs(con) == [("H1", Decimal(120), Decimal(230))]
    assert rows(con, "select count(*) from lives.lives") == [(2,)]


def test_two_cost_lines_of_one_removal_are_refused_rather_than_added_or_chosen():
    second = "2021-01-01,P1,failed,H1,250,,W1\n"
    con = build(service_points=ONE_PLACE, installations=IN, replacements=OUT + second)
    assert {(row[1], row[4]) for row in refused(con)} == {
        (2, "rows of one key disagree within one file"),
        (3, "rows of one key disagree within one file")}
    assert rows(con, "select count(*) from lives.lives") == [(2,)]


def test_two_cost_lines_with_numbers_of_their_own_give_one_life():
    """The second removal on the day finds no hose; its cost is kept beside the lives."""
    head = OUT.splitlines()[0] + ",row_id\n"
    con = build(service_points=ONE_PLACE, installations=IN, replacements=head
                + "2021-01-01,P1,failed,H1,120,230,W1,1\n2021-01-01,P1,failed,H1,250,,W1,2\n")
    assert rows(con, "select count(*) from lives.lives") == [(2,)]
    assert rows(con, "select (select sum(part_cost) from lives.stays) "
                     "+ (select sum(part_cost) from lives.orphans)") == [(Decimal(370),)]
