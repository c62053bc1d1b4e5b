"""Spares from logs that name some parts, some prices and some stock only."""

import duckdb
import pytest

from etl import run
from etl.load.publish import current_edition

DAYS = {i: ("2018-01-01", f"2019-0{1 + i}-15", f"202{i % 3}-0{1 + i}-20") for i in range(8)}
LOGS = {
    "service_points.csv": "service_point,application_class,hazards\n" + "".join(
        f"A{i},loop,\n" for i in range(8)) + "B1,gas,toxic\nB2,gas,toxic\n",
    "installations.csv": "installed_on,service_point,part_number\n" + "".join(
        f"{day},A{i},P-1\n" for i in range(8) for day in DAYS[i]
    ) + "2020-01-01,B1,P-2\n2018-01-01,B2,P-2\n",
    "replacements.csv": "removed_on,service_point,reason\n" + "".join(
        f"{day},A{i},failed\n" for i in range(8) for day in DAYS[i][1:]
    ) + "2021-01-01,B2,failed\n",
    "parts.csv": "part_number,construction,dn,live_length_mm,end_a,end_b,unit_price,"
                 "shelf_life_days,replaces\nP-1,C-1,40,600,union,union,120,,\n"
                 "P-2,C-1,40,600,union,flange,,90,\nP-3,C-1,40,600,union,union,150,,P-1\n",
    "stock.csv": "part_number,as_of,on_hand,on_order,due_on\nP-1,2022-10-31,1,2,2022-11-20\n",
}


@pytest.fixture(scope="module")
def ask(tmp_path_factory):
    folder = tmp_path_factory.mktemp("some-stock")
    for name, text in LOGS.items():
        (folder / name).write_text(text, encoding="utf-8")
    store = folder / "store"
    run.load(folder, store, as_of="2022-10-31")
    with duckdb.connect(str(current_edition(store)), read_only=True) as con:
        yield lambda question: con.execute(question).fetchall()


def test_stock_and_deliveries_are_those_of_the_part_that_has_them(ask):
    rows = ask("""select part_number, on_hand, on_order, next_due_on::varchar, order_now is null,
        unit_price, n_failures, n_suspensions from spares order by part_number""")
    assert rows == [("P-1", 1, 2, "2022-11-20", False, 120.0, 16, 8),
                    ("P-2", None, None, None, True, None, 1, 1)]


def test_a_toxic_place_keeps_one_although_its_shelf_life_is_short(ask):
    assert ask("select stock_level, shelf_cap, service_level from spares "
               "where part_number = 'P-2'") == [(1, 0, 0.99)]


def test_a_part_that_replaces_another_is_its_stand_in_without_a_place_of_its_own(ask):
    rows = ask("select part_number, stand_in, is_approved, basis, on_hand from spares_stand_ins")
    assert rows == [("P-1", "P-3", True, "the register says it replaces this part", None)]


def test_the_budget_counts_the_part_without_a_price_as_left_out(ask):
    assert ask("select distinct n_parts, n_without_price from spares_budget") == [(2, 1)]


def test_an_order_bears_its_reason_counts_and_date(ask):
    rows = ask("""select o.quantity = s.order_now, o.why = s.reason, o.data_date::varchar,
        o.n_failures, o.stock_counted_on::varchar, o.needed_by >= o.data_date
        from order_list as o join spares as s using (part_number)""")
    assert rows in ([], [(True, True, "2022-10-31", 16, "2022-10-31", True)])
    assert bool(rows) == (ask("select count(*) from spares where order_now > 0")[0][0] > 0)
