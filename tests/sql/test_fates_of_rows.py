"""What becomes of the rows of a key, against the rule in plain words, one key after the other."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from etl.load.warehouse import connect, run_sql, run_text
from tests.sql.tiny import rows

FIRST_DAY = dt.date(2024, 1, 1)
N_FILES = 4
ROW = st.tuples(st.integers(1, N_FILES), st.integers(1, 9), st.sampled_from([1, 1, 1, 2, 3]),
                st.sampled_from([False] * 4 + [True]))
"""File, key, cells, and whether the row takes its key back."""
REPEATED = """
create or replace table clean.repeated as
select
    'usage' as log, key::ubigint as key_hash, key::ubigint as key_check, row_no,
    load_id::integer as load_id, 1 as entry_no, row_no % 1000 as source_row, known_on, deleted,
    cells::ubigint as cells_hash
from (select
    unnest($row_no::bigint[]) as row_no, unnest($file::bigint[]) as load_id,
    unnest($key::bigint[]) as key, unnest($deleted::boolean[]) as deleted,
    unnest($known_on::date[]) as known_on, unnest($cells::bigint[]) as cells)
"""


def taken_back(versions):
    """Return the fate of rows of which the last one takes their key back."""
    if all(row["deleted"] for row in versions):
        return {row["row_no"]: "deletes nothing" for row in versions}
    return {row["row_no"]: "deleted" for row in versions[-2:]}


def reference(table):
    """Return the fate of each row that is not the current one, and the rows that returned."""
    fates, returned = {}, set()
    keys = defaultdict(lambda: defaultdict(list))
    for row in table:
        keys[row["key"]][row["file"]].append(row)
    for files in keys.values():
        said = []
        for listed in files.values():
            if len({row["cells"] for row in listed}) > 1:
                fates |= {row["row_no"]: "conflict" for row in listed}
                continue
            first, *again = sorted(listed, key=lambda row: row["row_no"])
            fates |= {row["row_no"]: "repeat" for row in again}
            said.append(first)
        versions = []
        for row in sorted(said, key=lambda row: (row["known_on"], row["row_no"])):
            if versions and versions[-1]["cells"] == row["cells"]:
                fates[row["row_no"]] = "repeat"
            else:
                versions.append(row)
        if not versions:
            continue
        *before, now = versions
        fates |= {row["row_no"]: "corrected" for row in before}
        if now["deleted"]:
            fates |= taken_back(versions)
        elif any(row["cells"] == now["cells"] for row in before):
            returned.add(now["row_no"])
    return fates, returned


@pytest.fixture(scope="module")
def con():
    with connect(threads=2) as open_con:
        yield open_con


@settings(max_examples=100, deadline=None)
@given(st.lists(ROW, max_size=50), st.lists(st.integers(0, 2), min_size=N_FILES, max_size=N_FILES))
def test_fates_are_those_of_the_plain_rule(con, drawn, days):
    table = [{
        "row_no": file * 1000 + number, "file": file, "key": key, "deleted": deleted,
        "known_on": FIRST_DAY + dt.timedelta(days=days[file - 1]),
        "cells": 2 * cells + deleted,  # the mark is one of the cells
    } for number, (file, key, cells, deleted) in enumerate(drawn)]
    run_text(con, REPEATED, **{name: [row[name] for row in table] for name in (
        "row_no", "file", "key", "deleted", "known_on", "cells")})
    run_sql(con, "clean/01_fates")
    run_sql(con, "clean/03_returned")
    fates, returned = reference(table)
    assert dict(rows(con, "select row_no, fate from clean.fates")) == fates
    assert {row for row, in rows(con, "select row_no from clean.returned")} == returned
