"""A whole record of a teardown without a browser: what each button does, and what none does."""

import json
from urllib.parse import quote

import pytest

from dashboard import actions
from etl.load.entered import read_journal
from tests.dashboard.page_reader import found, words
from tests.dashboard.pictures import picture, sent

ORIGIN = {"Origin": "http://localhost"}


class Record:
    """Presses the buttons of a record as the browser does."""

    def __init__(self, reader, stay):
        self.reader, self.n = reader, 0
        self.known = {"hose": stay["hose_id"], "place": stay["service_point"],
                      "removed": stay["removed_on"].isoformat(), "at": "begin", "who": "",
                      "day": ""}
        self.said = ""
        self.shown = []

    def press(self, do, about="", value="", fields=None, entry_id=None, token=None):
        self.n += 1
        app = self.reader.app
        key = next(key for key in app.callback_map if "record-side" in key)
        names = [{"type": "record-field", "index": name} for name in fields or {}]
        boxes = list((fields or {}).values())
        token = app.server.config[actions.KEY].token if token is None else token
        body = {
            "output": key, "outputs": [{"id": name, "property": prop} for name, prop in (
                ("record-screen", "children"), ("record-side", "children"),
                ("record-known", "data"), ("record-said", "children"))],
            "changedPropIds": ["record-sent.data"],
            "inputs": [{"id": "record-sent", "property": "data", "value": {
                "id": entry_id or f"{self.n:020d}", "do": do, "about": about, "value": value}}],
            "state": [{"id": "record-known", "property": "data", "value": self.known},
                      {"id": "entry-token", "property": "data", "value": token},
                      [{"id": name, "property": "value", "value": box}
                       for name, box in zip(names, boxes, strict=True)],
                      [{"id": name, "property": "id", "value": name} for name in names]]}
        answer = self.reader.client.post("/_dash-update-component", json=body, headers=ORIGIN)
        assert answer.status_code == 200, answer.get_data(as_text=True)[:300]
        told = json.loads(answer.get_data(as_text=True))["response"]
        self.known = told.get("record-known", {}).get("data", self.known)
        self.said = told.get("record-said", {}).get("children", "")
        self.shown = told.get("record-screen", {}).get("children", self.shown)
        return self

    def begin(self):
        self.press("begin", fields={"who": "Ann", "examined_on": "2026-11-01"})
        return self.press("safe", fields={"safe": ["isolated", "drained", "cooled", "medium",
                                                   "lagging", "ends"], "permit": "PTW 7"})


@pytest.fixture
def stay(reader):
    with reader.app.server.test_request_context("/"):
        return actions.asked.waiting(1)[0]


@pytest.fixture
def record(reader, stay):
    return Record(reader, stay)


def read(store):
    return [row for entry in read_journal(store, "teardowns").entries for row in entry.rows]


def test_nothing_is_asked_before_the_hose_was_made_safe(record, store):
    record.press("go", "look crk_45")
    assert record.known["at"] == "begin"
    record.press("begin", fields={"who": "Ann", "examined_on": "2026-11-01"})
    record.press("go", "conclude")
    assert record.known["at"] == "make safe"
    record.press("safe", fields={"safe": ["isolated"], "permit": ""})
    assert "Do not go on" in record.said
    assert read(store) == []


@pytest.mark.parametrize(("fields", "said"), [
    ({"who": "", "examined_on": "2026-11-01"}, "Give your name"),
    ({"who": "Ann", "examined_on": "1 Nov"}, "is not a date"),
    ({"who": "Ann", "examined_on": "2199-01-01"}, "lies after"),
    ({"who": "Ann", "examined_on": "2001-01-01"}, "lies before the removal")])
def test_a_record_begins_with_a_name_and_a_day_that_can_be(record, fields, said):
    record.press("begin", fields=fields)
    assert said in record.said
    assert record.known["at"] == "begin"


def test_a_record_from_its_begin_to_its_end_and_open_again(record, store, reader, stay):
    record.begin()
    assert record.known["at"] == "mark"
    record.press("note", "mark", fields={"note": "line drawn"})
    record.press("photo", "mark", sent(picture()))
    assert record.said == "The photograph is saved."
    record.press("answer", "crk_45", "present")
    record.press("answer", "crk_45", "absent")
    record.press("answer", "crk_45", "back")
    record.press("answer", "crk_45", "present", entry_id="f" * 20)
    record.press("answer", "crk_45", "present", entry_id="f" * 20)  # the answer got lost: once more
    assert sum(row["finding"] == "crk_45" for row in read(store)) == 4
    record.press("conclude", fields={"mechanism": "torsion_fatigue", "sure": []})
    assert "Look it over first" in record.said
    record.press("conclude", fields={"mechanism": "torsion_fatigue", "sure": ["sure"]})
    assert "confirmed" in record.said
    findings = [row["finding"] for row in read(store)]
    assert findings[-2:] == ["mechanism", "record closed"]
    assert findings[0] == "made safe"
    assert {row["examiner"] for row in read(store)} == {"Ann"}
    text = " ".join(" ".join(words(record.shown)).split())
    assert "who concluded torsion fatigue" in text
    for do, about, value in (("answer", "crk_45", "absent"), ("note", "mark", ""),
                             ("photo", "mark", sent(picture())), ("conclude", "", "")):
        record.press(do, about, value, fields={"note": "x", "sure": ["sure"]})
        assert "Open it again" in record.said
    assert sum(row["finding"] == "crk_45" for row in read(store)) == 4
    record.press("reopen")
    assert record.said == "The record is open again."
    address = f"/teardown/{quote(stay['hose_id'] or 'untagged')}?" + (
        f"place={quote(stay['service_point'])}&removed={stay['removed_on']}")
    assert "It goes on where it stopped" in reader.text(address)


def test_a_page_from_before_a_restart_says_so_and_saves_nothing(record, store):
    record.begin()
    n = len(read(store))
    record.press("answer", "crk_45", "present", token="from before")
    assert "started anew" in record.said
    assert len(read(store)) == n


@pytest.mark.parametrize(("do", "about", "value"), [
    ("answer", "no such finding", "present"), ("answer", "crk_45", "perhaps"),
    ("answer", "'; drop table lives; --", "absent"), ("photo", "mark", "data:text/html,<b>"),
    ("unphoto", "../../lock", ""), ("note", "no such step", ""), ("no such thing", "", ""),
    ("go", "look no such finding", ""), ("skip", "no such step", ""), ("conclude", "", ""),
])
def test_what_no_button_sends_saves_nothing(record, store, do, about, value):
    record.begin()
    n = len(read(store))
    record.press(do, about, value, fields={"mechanism": "x'; --", "sure": ["sure"]}
                 if do == "conclude" else None)
    assert len(read(store)) == n
    assert not found(record.shown, "Script")


def test_an_address_of_no_hose_answers_404_and_says_so(reader, stay):
    for path in ("/teardown/no%20such", "/teardown/untagged?place=x", "/teardown/%3Cscript%3E",
                 "/teardown/untagged?place=x&removed=then"):
        assert "There is no such hose" in reader.text(path), path
        assert reader.client.get(path).status_code == 404, path
    path = f"/teardown/{quote(stay['hose_id'])}?place={quote(stay['service_point'])}"
    assert reader.client.get(path).status_code == 200
