"""What is not a question of the pages is refused before any callback runs."""

import copy
import json

import pytest

from dashboard.questions import DEEPEST, MOST_ITEMS
from tests.dashboard.page_reader import _targets

ADDRESS = "/_dash-update-component"


@pytest.fixture
def question(full):
    """Body by which a browser asks for rows of the grid of places."""
    key = next(key for key in full.app.callback_map if "places-grid.getRowsResponse" in key)
    listed = full.app.callback_map[key]
    return {
        "output": key, "outputs": _targets(key), "changedPropIds": [],
        "inputs": [{**item, "value": None} for item in listed["inputs"]],
        "state": [{**item, "value": None} for item in listed["state"]],
    }


def asked(full, body):
    return full.client.post(ADDRESS, data=json.dumps(body), content_type="application/json")


def test_what_a_page_asks_is_answered(full, question):
    assert asked(full, question).status_code in (200, 204)


def deep(levels):
    return {} if levels == 0 else {"x": deep(levels - 1)}


@pytest.mark.parametrize("value", [
    "x", 3, [], True, float("nan"), float("inf"), 2**64, {"x": "\ud800"}, deep(DEEPEST),
], ids=str)
def test_a_value_that_a_grid_cannot_hold_is_refused(full, question, value):
    question["inputs"][0]["value"] = value
    answer = asked(full, question)
    assert answer.status_code == 400
    assert "nothing that the pages have" in answer.get_data(as_text=True)


def change(path, value):
    def changed(body):
        *way, last = path
        for step in way:
            body = body[step]
        body[last] = value
    return changed


CHANGES = {
    "another component": change(["inputs", 0, "id"], "shell-search"),
    "a pattern for a component": change(["inputs", 0, "id"], {"type": "places-grid", "index": 1}),
    "another property": change(["inputs", 0, "property"], "children"),
    "no inputs": change(["inputs"], []),
    "one input too many": lambda body: body["inputs"].append(body["inputs"][0]),
    "inputs that are no list": change(["inputs"], "x"),
    "an input that is nothing": change(["inputs", 0], None),
    "an output of another callback": change(["output"], "shell-search.data"),
    "outputs of another component": change(["outputs"], [{"id": "x", "property": "children"}]),
    "outputs without end": lambda body: change(
        ["outputs"], [body["outputs"]] * (MOST_ITEMS + 1))(body),
    "a change of what was not asked": change(["changedPropIds"], ["shell-search.data"]),
    "changes that are no list": change(["changedPropIds"], {"x": 1}),
}


@pytest.mark.parametrize("name", CHANGES)
def test_names_that_are_not_those_of_the_callback_are_refused(full, question, name):
    body = copy.deepcopy(question)
    CHANGES[name](body)
    assert asked(full, body).status_code == 400
