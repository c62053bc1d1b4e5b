"""Hoses of two places that changed over, entered on the page of one, without a browser."""

import json

import pytest

from dashboard import actions
from etl.load.entered import read_journal

ORIGIN = {"Origin": "http://localhost"}


@pytest.fixture
def seats(reader):
    """Two hoses in service."""
    with reader.app.server.test_request_context("/"):
        return actions.asked.ask("select service_point, hose_id, construction from lives where "
                                 "is_open order by installed_on, life_id limit 2")


def press(reader, place, entry_id="0" * 16, token=None, **fields):
    given = {"who": "Ann", "swapped_on": "2026-10-01"} | fields
    names = [{"type": "enter-field", "index": name} for name in given]
    own = reader.app.server.config[actions.KEY].token
    answer = reader.client.post("/_dash-update-component", headers=ORIGIN, json={
        "output": "enter-said.children", "outputs": {"id": "enter-said", "property": "children"},
        "changedPropIds": ["enter-sent.data"],
        "inputs": [{"id": "enter-sent", "property": "data",
                    "value": {"id": entry_id, "do": "swap"}}],
        "state": [{"id": "enter-place", "property": "data", "value": place},
                  {"id": "entry-token", "property": "data", "value": token or own},
                  {"id": "enter-which", "property": "value", "value": None},
                  [{"id": name, "property": "value", "value": given[name["index"]]}
                   for name in names],
                  [{"id": name, "property": "id", "value": name} for name in names]]})
    assert answer.status_code == 200, answer.get_data(as_text=True)[:300]
    return json.loads(answer.get_data(as_text=True))["response"]["enter-said"]["children"]


def kept(store, log):
    return [row for entry in read_journal(store, log).entries for row in entry.rows]


def test_both_hoses_move_once(reader, store, seats):
    here, there = seats
    assert press(reader, here["service_point"], swap_with=there["service_point"]).startswith(
        "The swap is saved")
    assert "counts once" in press(reader, here["service_point"], swap_with=there["service_point"])
    assert [(row["service_point"], row["hose_id"], row.get("construction"))
            for row in kept(store, "installations")] == [
        (there["service_point"], here["hose_id"], here["construction"]),
        (here["service_point"], there["hose_id"], there["construction"])]
    assert [(row["service_point"], row["hose_id"], row["reason"])
            for row in kept(store, "replacements")] == [
        (seat["service_point"], seat["hose_id"], "relocated") for seat in seats]


@pytest.mark.parametrize(("given", "said"), [
    ({"swapped_on": "soon"}, "not a day"), ({"swapped_on": "1990-01-01"}, "knows of no hose"),
    ({"swap_with": "Nowhere"}, "knows of no hose"), ({"swap_with": None}, "two different places"),
    ({"swapped_on": "2198-01-01"}, "lies after"), ({"token": "from before"}, "started anew")])
def test_what_is_no_swap_is_said_and_nothing_is_kept(reader, store, seats, given, said):
    here, there = (seat["service_point"] for seat in seats)
    given = {"swap_with": there} | given
    given["swap_with"] = given["swap_with"] or here
    assert said in press(reader, here, **given)
    assert kept(store, "installations") == kept(store, "replacements") == []
