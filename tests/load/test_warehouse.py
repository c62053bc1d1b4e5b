import pytest

from etl.errors import CheckError, InputError
from etl.load import warehouse
from etl.load.columns import LOGS


@pytest.fixture
def packaged(tmp_path, monkeypatch):
    """A folder of packaged SQL of our own."""
    monkeypatch.setattr(warehouse, "resource", lambda name: tmp_path)
    (tmp_path / "checks").mkdir()
    (tmp_path / "lives").mkdir()
    return tmp_path


@pytest.fixture
def con():
    with warehouse.connect() as opened:
        yield opened


def test_run_layer_runs_files_in_order_with_the_parameters_they_name(packaged, con):
    (packaged / "lives" / "20_b.sql").write_text("create table lives.b as select n + $more as n"
                                                 " from lives.a -- not $this")
    (packaged / "lives" / "10_a.sql").write_text("create table lives.a as select $as_of as n")
    warehouse.run_layer(con, "lives", as_of=1, more=2, unused=3)
    assert con.execute("from lives.b").fetchall() == [(3,)]


def test_run_sql_names_the_file_of_a_missing_parameter(packaged, con):
    (packaged / "lives" / "10_a.sql").write_text("select $as_of")
    with pytest.raises(InputError, match=r"lives/10_a.sql: .*'as_of'"):
        warehouse.run_sql(con, "lives/10_a")
    with pytest.raises(InputError, match="no such packaged SQL file"):
        warehouse.run_sql(con, "lives/99_z")


def test_run_checks_names_every_broken_rule_with_its_rows(packaged, con):
    (packaged / "checks" / "fine.sql").write_text("select 1 where false")
    (packaged / "checks" / "broken.sql").write_text("select range as n from range(7)")
    with pytest.raises(CheckError, match=r"1 of 2 checks failed. broken: 7 faulty rows, .*n=4"):
        warehouse.run_checks(con)
    (packaged / "checks" / "broken.sql").unlink()
    warehouse.run_checks(con)


@pytest.mark.parametrize("log", LOGS.values(), ids=lambda log: log.name)
def test_every_log_is_described_without_a_gap(log):
    kinds = {"text", "tag", "date", "number", "integer", "money", "yes_no", "words", "word"}
    assert len(set(log.names)) == len(log.names)
    assert {"row_id", "deleted"} <= set(log.names)
    assert set(log.key) <= set(log.names)
    assert {name for names in log.alternatives for name in names} <= set(log.names)
    assert log.required
    for column in log.columns:
        assert column.kind in kinds
        assert bool(column.words) == (column.kind in ("word", "words"))
        assert column.meaning
