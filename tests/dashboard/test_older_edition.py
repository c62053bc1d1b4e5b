"""An edition that lacks what a page reads is told of in words, whatever is missing."""

import shutil

import duckdb
import pytest

from dashboard.queries import edition
from tests.dashboard.page_reader import Reader

LACKING = [
    ("vibration_summary", "columns", "/vibration"), ("vibration_errors", "columns", "/vibration"),
    ("vibration_errors", "table", "/vibration"), ("plan_effect", "columns", "/"),
    ("trial_states", "columns", "/trials"), ("spares_budget", "columns", "/spares"),
]
"""Tables that a page asks for as they are, without naming columns."""


@pytest.fixture(scope="module")
def older(stores, tmp_path_factory):
    store = tmp_path_factory.mktemp("older")
    shutil.copytree(stores["full"], store, dirs_exist_ok=True)
    return store, Reader(store)


@pytest.mark.parametrize(("table", "lack", "address"), LACKING)
def test_a_page_says_that_another_version_made_the_edition(older, stores, table, lack, address):
    store, reader = older
    new = store / "editions" / f"edition-{10 + LACKING.index((table, lack, address)):06d}.duckdb"
    shutil.copy(stores["full"] / "editions" / (stores["full"] / "current").read_text().strip(), new)
    with duckdb.connect(str(new)) as con:
        names = [row[0] for row in con.execute(f"describe {table}").fetchall()]
        if lack == "table":
            con.execute(f"drop table {table}")
        else:
            for name in names[1:]:
                con.execute(f"alter table {table} drop column {name}")
    (store / "current").write_text(new.name)
    text = reader.text(address)
    assert "made by another version of Braidlife" in text, text[:300]
    assert text.startswith(edition.LACKING)
    assert "braidlife load" in text


def test_a_row_that_was_added_to_still_tells_what_it_lacks(stores):
    with Reader(stores["full"]).app.server.app_context():
        (row,) = edition.ask("select 1 as n, 2 as m")
        for asked in (row, row | {"m": 3}):
            with pytest.raises(KeyError) as caught:
                asked["k"]
            assert "another version" in str(edition.explain(caught.value))
        assert edition.explain(KeyError("k")) is None
