"""Tables that are made empty without their statement are what it would have made."""

from __future__ import annotations

import datetime as dt

import pytest

from etl.load import archive
from etl.load.row_choice import none_repeated_statement
from etl.load.unless import UNLESS
from etl.load.warehouse import files_of, run_file
from tests.load.growing_logs import Fleet, write
from tests.load.test_append import SIZES, whole

PLAIN = {"service_points": [{"service_point": "P-1", "application_class": "pump"}],
         "installations": [{"installed_on": "2020-01-05", "service_point": "P-1",
                            "hose_id": "H1", "construction": "C1"}],
         "replacements": [{"removed_on": "2020-03-05", "service_point": "P-1", "hose_id": "H1",
                           "reason": "failed"}]}


@pytest.fixture(scope="module", params=["plain logs", "untidy logs"])
def built(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory):
    """Layers of logs in which none of the tables has a row, and of some in which many have."""
    fleet = Fleet(21)
    sizes = {log: 4 * size for log, size in SIZES.items()}
    untidy = {**fleet.register(), **fleet.period(sizes, 0, 300, again=0.3)}
    folder = tmp_path_factory.mktemp("unless")
    archive.add(folder / "store",
                write(folder / "logs", PLAIN if request.param == "plain logs" else untidy, "1"),
                dt.date(2021, 1, 1))
    con, _ = whole(folder / "store", dt.date(2020, 12, 1))
    with con:
        yield con, request.param == "plain logs"


@pytest.mark.parametrize("table", UNLESS)
def test_a_table_made_empty_is_what_its_statement_makes(built, table: str) -> None:
    con, is_plain = built
    rows, columns = UNLESS[table]
    [file] = [file for file in files_of(table.split(".")[0])
              if file.stem.split("_", 1)[1] == table.split(".")[1]]
    con.execute(f"create or replace temp table declared ({columns})")
    made = con.execute(f"from {table}").fetchall()
    run_file(con, file, {})
    assert con.execute(f"describe {table}").fetchall() == con.execute(
        "describe declared").fetchall()
    assert sorted(made, key=repr) == sorted(con.execute(f"from {table}").fetchall(), key=repr)
    is_needed = con.execute(f"select exists (from {rows})").fetchone() == (True,)
    assert is_needed or not made
    assert not (is_plain and is_needed)


def test_rows_that_come_again_have_the_same_columns_where_there_are_none(built) -> None:
    con, _ = built
    wanted = con.execute("describe clean.repeated").fetchall()
    con.execute(none_repeated_statement())
    assert con.execute("describe clean.repeated").fetchall() == wanted
