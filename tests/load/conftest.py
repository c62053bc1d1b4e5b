"""A folder of logs, a store and a work database for the tests of reading."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from pathlib import Path

import duckdb
import pytest

from etl.load import archive, warehouse
from etl.load.raw import load_raw

DAY = dt.date(2026, 11, 1)


@dataclass
class Site:
    """Logs on disk, and what the raw layer makes of them."""

    logs: Path
    store: Path
    con: duckdb.DuckDBPyConnection
    groups: dict = field(default_factory=dict)

    def write(self, name: str, content: str | bytes) -> Path:
        path = self.logs / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    def load(self, day: dt.date = DAY) -> list[archive.Outcome]:
        outcomes = archive.add(self.store, self.logs, day)
        self.groups = load_raw(self.con, self.store)
        return outcomes

    def rows(self, query: str) -> list[tuple]:
        return self.con.execute(query).fetchall()

    def status(self, name: str) -> tuple[str, str | None]:
        found = self.con.execute(
            "select status, message from raw.loads where source_file = ?", [name]).fetchall()
        assert len(found) == 1, found
        return found[0]

    def refusal(self, name: str) -> str:
        status, message = self.status(name)
        assert status == "refused"
        assert message is not None
        assert message.startswith(name)
        return message

    def corrections(self) -> list[tuple[str | None, str, int]]:
        return self.rows("select column_name, what, n_cells from raw.corrections order by all")

    def is_balanced(self) -> bool:
        """Every record is the header, a row, unreadable, blank or skipped."""
        loads = self.rows(
            "select log, load_id, entry_no, n_records - n_blank - n_skipped - n_unreadable - 1"
            " from raw.loads where status = 'loaded'")
        return all(
            self.rows(f"select count(*) from raw.{log} where load_id = {load} and entry_no = {no}")
            == [(expected,)]
            for log, load, no, expected in loads)


@pytest.fixture
def site(tmp_path):
    logs, store = tmp_path / "logs [1]*?'", tmp_path / "store [1]*?'"
    logs.mkdir()
    with warehouse.connect() as con:
        yield Site(logs, store, con)
