"""Forged requests: a small run of the attack, and each kind of fault that it once found."""

import json

import pytest

from dashboard.questions import ADDRESS, is_known, is_sound
from tests.bench.attack import Attack
from tests.dashboard.edition_maker import make_edition
from tests.dashboard.page_reader import _targets

WHAT_IF = "spares-what-if.children"
NAMES = [{"type": "spares-what-if", "index": name} for name in ("lead", "level")]


@pytest.mark.parametrize("seed", [1])
def test_no_forged_request_is_a_fault_of_ours(tmp_path, seed):
    (tmp_path / "store").mkdir()
    make_edition(tmp_path / "store", "full")
    attack = Attack(tmp_path / "store", seed)
    attack.run(1_200)
    assert attack.findings == []
    assert attack.tried["address"] == attack.tried["forged"] == 300
    assert attack.answered["values 2xx"] > 50  # the callbacks themselves were reached


@pytest.fixture
def asked(full):
    """What a browser sends when something is chosen under Spares."""
    return {"output": WHAT_IF, "outputs": {"id": "spares-what-if", "property": "children"},
            "inputs": [[{"id": name, "property": "value", "value": "1"} for name in NAMES]],
            "state": [[{"id": name, "property": "id", "value": name} for name in NAMES]],
            "changedPropIds": ['{"index":"lead","type":"spares-what-if"}.value']}


def ask(reader, body):
    return reader.client.post(ADDRESS, data=body if isinstance(body, str) else json.dumps(body),
                              content_type="application/json").status_code


def test_what_a_browser_sends_is_known(full, asked):
    assert is_known(asked, full.app.callback_map)
    assert ask(full, asked) == 200
    for key, listed in full.app.callback_map.items():
        if "callback" in listed and not any(
                item["id"].startswith("{") for item in [*listed["inputs"], *listed["state"]]):
            inputs = [{**item, "value": "/" if item["property"] == "pathname" else None}
                      for item in listed["inputs"]]
            body = {"output": key, "outputs": _targets(key), "inputs": inputs,
                    "state": listed["state"], "changedPropIds": []}
            assert is_known(body, full.app.callback_map), key


def without(part):
    return lambda body: body.pop(part)


def put(part, value):
    return lambda body: body.update({part: value})


@pytest.mark.parametrize("change", [
    without("inputs"), without("outputs"), put("inputs", []), put("inputs", [[], []]),
    put("inputs", None), put("state", None), put("state", [[]]), put("inputs", [[1, None]]),
    put("outputs", {"id": "shell-goto", "property": "href"}), put("outputs", [[]]),
    put("outputs", {"id": "spares-what-if", "property": "dangerously"}),
    put("changedPropIds", ["shell-goto.href"]), put("changedPropIds", [7]),
    put("changedPropIds", {}), put("output", "shell-goto.href"),
    lambda body: body["inputs"][0].pop(),
    lambda body: body["inputs"][0][0].update(id={"type": "entry-build", "index": "lead"}),
    lambda body: body["inputs"][0][0].update(id={"type": "spares-what-if", "index": {}}),
    lambda body: body["inputs"][0][0].update(id="spares-what-if"),
    lambda body: body["inputs"][0][0].update(property="children"),
    lambda body: body["inputs"][0][0].update(value={"a": 1}),
    lambda body: body["state"][0][0].update(value={"type": "spares-what-if", "index": "other"}),
])
def test_a_forged_name_or_value_is_refused(full, asked, change):
    change(asked)
    assert ask(full, asked) == 400


@pytest.mark.parametrize("body", [
    "[" * 100_000 + "]" * 100_000, '{"a":' * 3000 + "1" + "}" * 3000, "9" * 10_000,
    json.dumps({"output": "\ud800"}), '{"output": NaN}', '{"output": 1e999}'])
def test_what_is_no_sound_text_or_number_is_refused(full, body):
    assert ask(full, body) == 400


def test_sound_is_what_pages_send():
    assert is_sound({"a": [1, 2.5, "ü 软管", None, True, {"b": []}]})
    assert not is_sound([float("nan")])
    assert not is_sound(2**63)


@pytest.mark.parametrize("which", [
    "[" * 3000 + "]" * 3000, "[1e999, 1, 1]", '["inspections", "x.csv", 1e999]', "null", "{}", "[]",
    '["inspections", "x.csv", 9999999999999999999999]', '["inspections", "x.csv", NaN]',
    '["inspections", "x.csv", {}]', '["\\ud800", "\\ud800", 1]', "9" * 9000, '["a", "b", true]'])
def test_a_row_that_none_can_have_chosen_is_none(full, which, caplog):
    listed = full.app.callback_map["enter-row.children"]
    body = {"output": "enter-row.children",
            "outputs": {"id": "enter-row", "property": "children"}, "changedPropIds": [],
            **{part: [{**item, "value": {"enter-which": which}.get(item["id"], "HD-1 discharge")}
                      for item in listed[part]] for part in ("inputs", "state")}}
    assert ask(full, body) in (200, 204)
    assert not [record for record in caplog.records if "failed" in record.getMessage()]
