"""Deciding a trial on its page, without a browser."""

import json

import pytest

from dashboard import actions
from etl.load.entered import read_journal
from tests.dashboard.page_reader import found

ORIGIN = {"Origin": "http://localhost"}
GIVEN = {"who": "Ann", "decision": "stiff adopted", "ended_on": "2026-10-01",
         "reason": "four failures against one"}


def press(reader, trial="T-1", token=None, entry_id="0" * 16, headers=ORIGIN, **fields):
    """Press the button as the browser does, and return what the page says."""
    given = GIVEN | fields
    names = [{"type": "decide-field", "index": name} for name in given]
    own = reader.app.server.config[actions.KEY].token
    answer = reader.client.post("/_dash-update-component", headers=headers, json={
        "output": "decide-said.children",
        "outputs": {"id": "decide-said", "property": "children"},
        "changedPropIds": ["decide-sent.data"],
        "inputs": [{"id": "decide-sent", "property": "data",
                    "value": {"id": entry_id, "do": "decide"}}],
        "state": [{"id": "decide-trial", "property": "data", "value": trial},
                  {"id": "entry-token", "property": "data", "value": own if token is None
                   else token},
                  [{"id": name, "property": "value", "value": given[name["index"]]}
                   for name in names],
                  [{"id": name, "property": "id", "value": name} for name in names]]})
    if answer.status_code != 200:
        return answer.get_data(as_text=True)
    return json.loads(answer.get_data(as_text=True))["response"]["decide-said"]["children"]


def kept(store):
    return [row for entry in read_journal(store, "trials").entries for row in entry.rows]


def test_a_trial_is_decided_once_with_all_that_its_rows_said(reader, store):
    assert found(reader.layout("/trials/T-1"), "Autocomplete")[0]["data"][:2] == [
        "flexible adopted", "stiff adopted"]
    assert press(reader) == "The decision is saved."
    assert press(reader) == "Saved before; it counts once."
    rows = kept(store)
    assert [(row["arm"], row["decision"], row["ended_on"], row["pair"]) for row in rows] == [
        ("flexible", "stiff adopted", "2026-10-01", "01"),
        ("stiff", "stiff adopted", "2026-10-01", "01")]
    assert all(row["rule"].startswith("Safety:") for row in rows)
    assert "2 entered rows not in an edition yet" in reader.text("/trials/T-1")


@pytest.mark.parametrize(("given", "said"), [
    ({"token": "from before"}, "before the server was started anew"),
    ({"headers": {"Origin": "http://evil.example"}}, "another site"),
    ({"trial": "'; drop table trials; --"}, "no such trial"), ({"reason": " "}, "say why"),
    ({"ended_on": "soon"}, "ended on “soon” is not a date"), ({"who": ""}, "say who"),
    ({"ended_on": "2025-01-31"}, "lies before the start")])
def test_what_is_wrong_is_said_and_nothing_is_kept(reader, store, given, said):
    assert said in press(reader, **given)
    assert kept(store) == []


def test_a_decided_trial_says_why_who_and_when(full):
    assert "Why: fewer failures. Entered by Ann on 1 Apr 2026." in full.text("/trials/T-2")
