"""What came of kept rows is taken as it was unless a key comes again: both ways give one answer."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from etl.load import archive
from etl.load.touched import Append
from tests.load.growing_logs import write
from tests.load.test_append import keep, same

PLACES = [f"P-{n}" for n in range(12)]
PUT_IN = {"installed_on": "2020-01-05", "service_point": "P-1", "construction": "C1"}
FIRST = [{**PUT_IN, "service_point": place, "hose_id": f"{place}-a"} for place in PLACES]
OUT = [{"removed_on": "2020-03-01", "service_point": place, "hose_id": f"{place}-a",
        "reason": "failed", "part_cost": 7} for place in PLACES]
NEXT = {**PUT_IN, "installed_on": "2020-03-01", "hose_id": "P-1-b"}


@pytest.fixture
def taken(monkeypatch: pytest.MonkeyPatch) -> list[bool]:
    """Note, of each load, whether fates were taken as kept."""
    found: list[bool] = []
    original = Append._keep_fates

    def noted(self: Append, fed: list[object]) -> tuple[str, ...]:
        stand = original(self, fed)
        found.append(bool(stand))
        return stand
    monkeypatch.setattr(Append, "_keep_fates", noted)
    return found


@pytest.mark.parametrize(("first", "later", "is_taken"), [
    ({}, {"installations": [NEXT]}, True),
    ({}, {"installations": [NEXT, NEXT]}, False),
    ({}, {"installations": [FIRST[1]]}, False),
    ({}, {"replacements": [{**OUT[1], "part_cost": 9}]}, False),
    ({}, {"replacements": [{**OUT[1], "deleted": "yes"}]}, False),
    ({}, {"replacements": [{**OUT[1], "removed_on": "2020-03-02", "deleted": "yes"}]}, False),
    ({"installations": [FIRST[1]]}, {"installations": [NEXT]}, True),
    ({"replacements": [{**OUT[1], "part_cost": 9}]}, {"installations": [NEXT]}, False),
    ({"replacements": [{**OUT[2], "part_cost": 9}]}, {"installations": [NEXT]}, True),
], ids=["new key", "new key twice", "repeated", "corrected", "taken back", "nothing to take back",
        "repeated before", "disagreeing before", "disagreeing before at another place"])
def test_fates_are_kept_where_no_key_comes_again(
        tmp_path: Path, taken: list[bool], first: dict[str, list[dict[str, object]]],
        later: dict[str, list[dict[str, object]]], is_taken: bool) -> None:
    store = tmp_path / "store"
    archive.add(store, write(tmp_path / "first", {
        "service_points": [{"service_point": place, "application_class": "pump"}
                           for place in PLACES],
        "installations": FIRST + first.get("installations", []),
        "replacements": OUT + first.get("replacements", [])}, "first"), dt.date(2021, 1, 1))
    keep(store, dt.date(2020, 12, 1))
    archive.add(store, write(tmp_path / "later", later, "later"), dt.date(2021, 2, 1))
    assert same(store, dt.date(2020, 12, 1))
    assert taken == [is_taken]
