import duckdb
import pytest

from etl.load import staged
from etl.load.columns import LOGS
from etl.load.mapping import TypingOptions

WORK_ORDERS = """Asset;Position;Fitted;Out;Why;Text;Clerk
A;1;01.02.2020;03.04.2021;BRKDN;duty c7;bob
A;2;02.02.2020;;;duty c8;
A;2;void;;;;
"""
MAPPING = """
[[file]]
match = "orders*"
log = "installations"
date_formats = ["%d.%m.%Y"]
exported_on = 2026-10-31
ignore = ["Clerk"]
[file.columns]
installed_on = "Fitted"
service_point = ["Asset", "Position"]
[file.skip]
Fitted = ["void"]
[[file]]
match = "orders*"
log = "replacements"
date_formats = ["%d.%m.%Y"]
[file.columns]
removed_on = "Out"
service_point = ["Asset", "Position"]
reason = "Why"
[file.words.reason]
BRKDN = "failed"
[file.skip]
Out = [""]
[[file]]
match = "orders*"
log = "service_points"
[file.columns]
service_point = ["Asset", "Position"]
[file.extract]
application_class = { column = "Text", pattern = 'c(\\d)' }
[file.constants]
site = "it's"
"""


def test_one_file_feeds_several_logs(site):
    site.write("orders.csv", WORK_ORDERS)
    site.write("columns.toml", MAPPING)
    site.load()
    assert site.rows("select entry_no, source_row, installed_on, service_point, other_cells"
                     " from raw.installations order by all") == [
        (1, 2, "01.02.2020", "A / 1",
         '{"Out":"03.04.2021","Why":"BRKDN","Text":"duty c7","Clerk":"bob"}'),
        (1, 3, "02.02.2020", "A / 2", '{"Text":"duty c8"}')]
    assert site.rows("select entry_no, source_row, reason from raw.replacements") == [
        (2, 2, "BRKDN")]
    assert site.rows("select entry_no, service_point, application_class, site"
                     " from raw.service_points order by source_row") == [
        (3, "A / 1", "7", "it's"), (3, "A / 2", "8", "it's"), (3, "A / 2", None, "it's")]
    assert site.rows("select log, entry_no, exported_on::varchar, n_records, n_skipped,"
                     " typing_group from raw.loads order by entry_no") == [
        ("installations", 1, "2026-10-31", 4, 1, 1), ("replacements", 2, None, 4, 2, 2),
        ("service_points", 3, None, 4, 0, 3)]
    assert site.groups[2].words == {"reason": {"BRKDN": "failed"}}
    assert site.groups[3] == TypingOptions()
    assert site.is_balanced()


def test_every_log_has_its_columns_even_without_a_file(site):
    site.write("parts.csv", "part_number,construction\nN,c\n")
    site.load()
    for name, log in LOGS.items():
        found = [(row[0], row[1]) for row in site.rows(f"describe raw.{name}")]
        assert found == [("load_id", "INTEGER"), ("entry_no", "INTEGER"), ("source_row", "BIGINT"),
                         *((column, "VARCHAR") for column in (*log.names, "other_cells"))]


def test_large_and_small_files_give_the_same_rows(site, monkeypatch):
    for number in range(4):
        rows = "".join(f"2020-01-0{i % 9 + 1},P{i},H{number}-{i}\n" for i in range(50))
        tail = "\n2020-01-01\n" if number % 2 else ""
        site.write(f"installations_{number}.csv",
                   "installed_on,service_point,hose_id\n" + rows + tail + "2020-01-09,Q,\n")
    query = "select * from raw.installations order by load_id, source_row"
    site.load()
    small = site.rows(query)
    monkeypatch.setattr(staged, "LARGE", 10)
    site.load()
    assert site.rows(query) == small
    assert len(small) == 204
    assert site.is_balanced()


def test_parquet_columns_are_read_as_text(site):
    target = str(site.logs / "installations.parquet").replace("'", "''")
    duckdb.sql(f'''copy (select * from (values
        (date '2020-01-31', 'P1', 7::double, true, 'x'), (date '2020-02-01', 'P2', null, false, ''),
        (null, '  00123', 1.5, null, null)) as t(installed_on, service_point, age_at_installation,
        deleted, "odd ""name""" ))
        to '{target}' (format parquet)''')
    site.write("columns.toml", '[[file]]\nmatch = "*.parquet"\nlog = "installations"\n'
               'ignore = ["odd*"]\n')
    site.load()
    assert site.rows("select source_row, installed_on, service_point, age_at_installation, deleted,"
                     " other_cells from raw.installations order by source_row") == [
        (2, "2020-01-31", "P1", "7", "true", '{"odd \\"name\\"":"x"}'),
        (3, "2020-02-01", "P2", None, "false", None), (4, None, "  00123", "1.5", None, None)]
    assert site.is_balanced()


def test_a_pattern_that_the_database_cannot_search_for_is_refused(site):
    site.write("orders.csv", WORK_ORDERS)
    site.write("columns.toml", MAPPING.replace("c(\\d)", "(?=c)(\\d)"))
    site.load()
    messages = site.rows("select message from raw.loads where status = 'refused'")
    assert len(messages) == 1
    assert "Write it without look-ahead" in messages[0][0]


@pytest.mark.parametrize("threads", [1, 2, 4])
def test_threads_do_not_change_the_rows(site, threads):
    rows = "".join(f"2020-01-01,P{i},{i + 2}\n" for i in range(30_000))
    site.write("installations.csv", "installed_on,service_point,hose_id\n" + rows)
    site.con.execute(f"set threads = {threads}")
    site.load()
    assert site.rows("select count(*) from raw.installations"
                     " where source_row::varchar = hose_id") == [(30_000,)]
