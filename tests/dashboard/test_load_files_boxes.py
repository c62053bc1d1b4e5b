"""Boxes about a file on its way in: no two options of one box alike, whatever its columns are."""

from unittest import mock

from dashboard import actions
from dashboard.parts.start import form
from dashboard.parts.start.ways import NONE
from etl.entry.incoming_choice import Choice
from tests.entry.test_incoming import looked

LOOKS = [looked("-", "leak", "worn"), looked("Note", "a", "b"), looked("Note", "c", "d"),
         looked("Out", "2024-01-31"), looked("column 5", "x")]
FILE = {"file": "out.csv", "columns": [*map(vars, LOOKS[:4]),
                                       vars(LOOKS[4]) | {"is_named": False}]}
OUT = Choice(kind="replacements", columns={"removed_on": "Out", "reason": "-"},
             header=["-", "Note", "Note", "Out"])


def boxes(tmp_path):
    with mock.patch.object(actions, "at_hand", return_value=mock.Mock(store=tmp_path)):
        drawn = form.form(0, FILE, OUT)
    return {item.id["index"]: item for item in drawn._traverse()
            if isinstance(getattr(item, "id", None), dict) and item.id["type"] == "start-field"}


def test_a_box_offers_each_column_once_and_none_without_a_name(tmp_path):
    """A box with two equal options takes the whole page down."""
    found = boxes(tmp_path)
    for name in ("0 column reason", "0 keep"):
        assert [item["value"] for item in found[name].data] == [NONE, "-", "Note", "Out"]
    assert found["0 column reason"].value == "-"


def test_a_column_or_word_of_one_stroke_is_chosen_like_any_other():
    told = form.chosen(0, OUT, {"0 column removed_on": "Out", "0 column reason": "-",
                                "0 keep": "-", "0 holds": "-", "0 column note": NONE})
    assert told["columns"] == {"removed_on": "Out", "reason": "-"}
    assert (told["keep_column"], told["keep_words"]) == ("-", "-")
