"""What the page asks about a file can be answered, and each answer changes how its cells are read.

Names of months in other languages and what they are in small letters: from memory.
"""

import pytest

from etl.entry import incoming
from etl.entry.incoming_asked import (
    MOST_WORDS,
    date_choices,
    mark_choice,
    month_choices,
    serial_choice,
    unknown_words,
)
from etl.entry.incoming_choice import STAYS, Choice, guess, unit_choices, with_forms
from etl.entry.incoming_text import mapping_text
from etl.errors import InputError
from etl.load.mapping import parse_mapping
from tests.entry.test_incoming import looked
from tests.load.new_workbook import books

WHERE = looked("Where", "P1", "P2")
OUT = Choice(kind="replacements", header=["Out", "Where"], columns={
    "removed_on": "Out", "service_point": "Where"})
BOTH = Choice(kind=STAYS, header=["In", "Out", "Where"], columns={
    "installed_on": "In", "removed_on": "Out", "service_point": "Where"})


def prices(*columns, said=""):
    looks = [looked(name, *cells) for name, cells in zip("PQ", columns, strict=False)]
    made = Choice(kind="parts", marks_said=said, columns=dict(zip(
        ("unit_price", "lead_time_days"), (look.name for look in looks), strict=False)))
    return with_forms(made, looks), looks


@pytest.mark.parametrize("cell", [
    "3 / Oca / 2021", "Mo 3 Oca 2021", "3 Oca 123", "32 Oca 2021", "3  Oca 2021", "2021 Oca 3",
    "\u0663 Oca \u0662\u0660\u0662\u0661"])
def test_a_month_is_not_asked_where_no_answer_would_make_the_day_readable(cell):
    assert month_choices(OUT, [looked("Out", cell), WHERE], {"removed_on": [cell]}) == []


def test_days_of_unknown_months_in_several_forms_are_all_read_once_the_months_are_named():
    out = [looked("Out", "3 Oca 2021", "17. \u015eub. 2021", "05-Nis-21", "6.Eki.2021"), WHERE]
    asked = month_choices(OUT, out, {})
    assert [name for name, _ in asked] == ["oca", "\u015fub", "nis", "eki"]
    said = with_forms(OUT.model_copy(update={"months_said": {
        "oca": 1, "\u015fub": 2, "nis": 4, "eki": 10}}), out)
    assert said.date_formats == ["%d %b %Y", "%d. %b %Y", "%d-%b-%y", "%d.%b.%Y"]


def test_numbers_of_another_script_are_not_asked_about():
    """The reader takes the digits 0 to 9 alone; such a row is refused with its cell."""
    arabic = "\u0664\u0664\u0661\u0669\u0669"
    assert serial_choice(OUT, [looked("Out", arabic, "4" + arabic[1:]), WHERE], {}) is None
    assert mark_choice(*prices(["\u0661.\u0662\u0665\u0660"])) == ""


@pytest.mark.parametrize(("first", "second", "formats"), [
    (["03/04/2024"], ["03-04-2024"], ["%m/%d/%Y", "%m-%d-%Y"]),
    (["03/04/2024"], ["03/04/2024 10:15"], ["%m/%d/%Y", "%m/%d/%Y %H:%M"]),
])
def test_the_order_of_day_and_month_that_is_said_goes_for_every_column(first, second, formats):
    """One question stands on the page; the second column was read day first, unasked."""
    looks = [looked("In", *first), looked("Out", *second), WHERE]
    assert date_choices(BOTH, looks) == ["%d/%m/%Y", "%m/%d/%Y"]
    said = with_forms(BOTH.model_copy(update={"date_formats": ["%m/%d/%Y"]}), looks)
    assert said.date_formats == formats
    assert with_forms(said, looks) == said


def test_a_column_that_tells_the_order_tells_it_for_the_other():
    looks = [looked("In", "12/31/2023", "01/20/2024"), looked("Out", "03/04/2024"), WHERE]
    assert with_forms(BOTH, looks).date_formats == ["%m/%d/%Y"]
    assert date_choices(BOTH, looks) == []
    other = [looked("In", "12-31-2023", "01-20-2024"), *looks[1:]]
    assert with_forms(BOTH, other).date_formats == ["%m-%d-%Y", "%m/%d/%Y"]
    assert date_choices(BOTH, other) == ["%d/%m/%Y", "%m/%d/%Y"]


def test_forms_side_by_side_in_one_column_are_all_read_and_nothing_is_asked():
    looks = [looked("Out", "31.01.2024", "2024/02/13", "28.02.2024", "2024/03/15"), WHERE]
    assert with_forms(OUT, looks).date_formats == ["%d.%m.%Y", "%Y/%m/%d"]
    assert date_choices(OUT, looks) == []


@pytest.mark.parametrize(("columns", "said", "marks"), [
    ([["1.250", "980"]], ",.", (",", ".")), ([["1.250", "980"]], ".", (".", "")),
    ([["1,250.50"]], ",.", (".", ",")),  # said of an earlier file; these cells tell
    ([["980"]], ",.", (",", ".")),
    ([["980,50"], ["1.250"]], "", (",", ".")),  # the comma of one column parts no thousands
    ([["980,5"], ["1.5"]], "", (",", "")),
])
def test_marks_that_were_said_count_only_where_the_cells_do_not_tell(columns, said, marks):
    made, _ = prices(*columns, said=said)
    assert (made.decimal, made.thousands) == marks


def test_amounts_beside_the_mark_of_a_currency_are_asked_about_too():
    made, looks = prices(["\u20ac 1.250", "\u20ac 980"])
    assert mark_choice(made, looks) == "1.250"


def test_cells_as_long_as_a_book_are_no_question():
    """A number of more than 4,300 digits stopped the page: Python turns none into a number."""
    assert mark_choice(*prices(["1" + ".250" * 1500])) == ""
    assert month_choices(OUT, [looked("Out", f"3 {'x' * 5000} 2021"), WHERE], {}) == []


def test_a_file_of_an_earlier_form_shows_its_own_forms_at_the_first_look():
    before = OUT.model_copy(update={"date_formats": ["%d.%m.%Y"], "words": {"reason": {"a": "b"}}})
    made = guess("out.csv", [looked("Out", "2024/01/31"), WHERE], None, [before])
    assert (made.date_formats, made.words) == (["%Y/%m/%d"], before.words)


def test_another_file_of_the_same_name_is_guessed_anew(tmp_path):
    incoming.add_file(tmp_path, "out.csv", b"Out;Where\n2024-01-31;P1\n")
    incoming.look_at_files(tmp_path, ["P1"])
    incoming.add_file(tmp_path, "out.csv", b"removed_on;service_point;reason\n2024-01-31;P1;leak\n")
    report = incoming.look_at_files(tmp_path, ["P1"])
    assert incoming.chosen(tmp_path)["out.csv"].header == ["removed_on", "service_point", "reason"]
    assert [file["messages"] for file in report["files"]] == [[]]


def test_a_column_without_a_name_is_never_taken():
    nameless = looked("column 1", "2024-01-31", "2024-02-29")
    nameless = nameless.__class__(**vars(nameless) | {"is_named": False})
    made = guess("replacements.csv", [nameless, looked("service_point", "P1", "P2")], None)
    assert "column 1" not in made.columns.values()
    assert made.header == ["service_point"]
    named = looked("column 1", "a", "b")
    of_own = guess("x.csv", [named, looked("service_point", "P1", "P2")], None)
    assert '"column 1"' in mapping_text({"x.csv": of_own})  # left aside, or it would be unknown


def test_words_beyond_the_first_forty_are_asked_once_those_are_answered():
    words = [f"cause {n}" for n in range(MOST_WORDS + 5)]
    made = Choice(kind="replacements", columns={"reason": "Why"}, header=["Why"])
    look = looked("Why", "failed", *words)
    assert [word for word, _, _ in unknown_words(made, [look])["reason"]] == words[:MOST_WORDS]
    given = {"reason": dict.fromkeys(words[:MOST_WORDS], "failed")}
    made = made.model_copy(update={"words": given})
    assert [word for word, _, _ in unknown_words(made, [look])["reason"]] == words


def test_a_cell_of_blanks_is_no_word():
    made = Choice(kind="replacements", columns={"reason": "Why"}, header=["Why"])
    assert unknown_words(made, [looked("Why", "\u00a0", "failed\u00a0")]) == {}


def test_words_are_looked_up_as_the_rows_look_them_up(tmp_path):
    """Python makes two signs of the capital i with its dot and another s at the end of a word;
    the database does neither. Blanks of other kinds than a cell loses stay on both sides."""
    words = ["\u0130PTAL", "\u03a4\u0395\u039b\u039f\u03a3", "\u3000PM"]
    incoming.add_file(tmp_path, "replacements.csv", (
        "removed_on;service_point;reason\n" + "".join(
            f"2024-01-{n + 1:02};P1;{word}\n" for n, word in enumerate(words))).encode())
    incoming.look_at_files(tmp_path, ["P1"])
    made = incoming.chosen(tmp_path)["replacements.csv"]
    said = made.model_copy(update={"words": {"reason": dict.fromkeys(words, "planned")}})
    incoming.choose(tmp_path, "replacements.csv", said.model_dump())
    report = incoming.look_at_files(tmp_path, ["P1"])
    assert report["refused"] == []
    (entry,) = parse_mapping(incoming.mapping_of(tmp_path)).file
    assert entry.words["reason"] == dict.fromkeys(words, "planned")


def test_a_file_whose_name_differs_in_capitals_only_is_not_kept_beside_the_other(tmp_path):
    """The mapping knows files by their names in any case: each was read by both entries."""
    incoming.add_file(tmp_path, "Out.csv", b"a\n")
    with pytest.raises(InputError, match="Out.csv waits already"):
        incoming.add_file(tmp_path, "out.CSV", b"b\n")
    incoming.add_file(tmp_path, "Out.csv", b"c\n")
    assert incoming.files(tmp_path) == ["Out.csv"]


def test_a_column_whose_name_a_page_cannot_take_is_told(tmp_path):
    incoming.add_file(tmp_path, "a.csv", b"Fitted" + b"x" * 700 + b";Place\n2024-01-31;P1\n")
    (file,) = incoming.look_at_files(tmp_path, ["P1"])["files"]
    (said,) = file["messages"]
    assert "has 706 signs; pages take 600. Shorten it" in said


def test_what_was_said_about_a_workbook_of_several_sheets_stays(tmp_path):
    """The first look takes the columns of all sheets, the second those of the one that is read."""
    content = books({"A": [["Out", "Where"], ["2024-01-31", "P1"]], "B": [["x", "y"], ["1", "2"]]})
    incoming.add_file(tmp_path, "out.xlsx", content)
    incoming.look_at_files(tmp_path, ["P1"])
    said = {"kind": "replacements", "columns": {"removed_on": "Out", "service_point": "Where"},
            "keep_column": "Where", "keep_words": "P1"}
    before = incoming.chosen(tmp_path)["out.xlsx"].model_dump()
    incoming.choose(tmp_path, "out.xlsx", before | said)
    incoming.look_at_files(tmp_path, ["P1"])
    now = incoming.chosen(tmp_path)["out.xlsx"]
    assert {key: getattr(now, key) for key in said} == said


@pytest.mark.parametrize(("name", "unit"), [
    ("Temp (\u00b0F)", "degF"), ("Temperature [K]", "K"), ("Temperature", "degC"),
    ("temperature_f", "degF")])
def test_the_unit_that_stands_ready_is_that_of_the_heading(name, unit):
    """As check proposes it: 400 degrees Fahrenheit are 204 degrees Celsius."""
    made = Choice(kind="service_points", columns={"temperature_c": name})
    assert unit_choices(made)["temperature_c"][0] == unit
