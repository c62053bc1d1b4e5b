"""Logs of all work on a site: rows of hoses are kept, and words in their text are guessed from."""

import pytest

from etl.errors import InputError
from etl.load.mapping import parse_mapping

ORDERS = """day,place,text,damage
2020-01-31,P1,"Hose BURST, leaking",
2020-02-01,P1,bleak outlook for the hose,
2020-02-02,P1,hose leaking at weld,
2020-02-03,P1,Hose leaks,squirm
2020-02-04,P1,pump leaking,
2020-02-05,P1,,
"""
MAPPING = """[[file]]
match = "orders.csv"
log = "replacements"
ignore = ["text"]
[file.columns]
removed_on = "day"
service_point = "place"
mechanism = "damage"
[file.constants]
reason = "failed"
[file.find.mechanism]
column = "text"
[file.find.mechanism.words]
leak = "braid_wear"
weld = "weld_fitting"
burst = "braid_wear"
[file.keep]
text = "(?i)hose"
"""


@pytest.fixture
def orders(site):
    site.write("orders.csv", ORDERS)
    site.write("columns.toml", MAPPING)
    site.load()
    return site


def test_only_rows_that_match_belong_to_the_log_and_the_others_are_counted(orders):
    assert orders.rows("select source_row from raw.replacements order by 1") == [
        (2,), (3,), (4,), (5,)]
    assert orders.rows("select n_skipped, n_left_out from raw.loads") == [(2, 2)]
    assert orders.is_balanced()


def test_a_guess_needs_one_meaning_and_never_replaces_what_is_stated(orders):
    """Words begin where a word of the text begins: bleak is no leak, weld and leak disagree."""
    assert orders.rows("select source_row, mechanism from raw.replacements order by 1") == [
        (2, "braid_wear"), (3, None), (4, None), (5, "squirm")]


def test_a_guess_is_marked_in_its_row_and_counted(orders):
    assert ("mechanism", "not stated: guessed from words in a free text, as columns.toml says",
            1) in orders.corrections()
    marked = orders.rows("select source_row from raw.replacements"
                         " where other_cells->>'mechanism (a guess)' is not null")
    assert marked == [(2,)]


@pytest.mark.parametrize(("lines", "said"), [
    ('[file.find.reason]\ncolumn = "t"\nwords = { leak = "broken" }',
     "'leak' means 'broken', which reason does not know"),
    ('[file.find.reason]\ncolumn = "t"\nwords = { "-" = "failed" }', "'-' is no word to look for"),
    ('[file.find.part_cost]\ncolumn = "t"\nwords = { leak = "1" }', "part_cost is no word"),
    ('[file.find.reason]\ncolumn = "t"\nword = { leak = "failed" }', "Did you mean 'words'?"),
    ('[file.find.cause]\ncolumn = "t"\nwords = { leak = "failed" }', "has no column 'cause'"),
    ('[file.constants]\nreason = "failed"\n[file.find.reason]\ncolumn = "t"\n'
     'words = { leak = "failed" }', "reason is filled twice"),
    ('[file.keep]\ntext = "(hose"', "is not a regular expression"),
    ('[file.keep]\nignore = "x"', "ignore stands below [file.keep]"),
])
def test_declarations_that_cannot_be_used_say_why(lines, said):
    with pytest.raises(InputError) as caught:
        parse_mapping('[[file]]\nmatch = "a"\nlog = "replacements"\n' + lines)
    assert said in str(caught.value)


def test_a_pattern_that_the_database_cannot_search_for_is_refused(site):
    site.write("orders.csv", ORDERS)
    site.write("columns.toml", MAPPING.replace("(?i)hose", "(?!pump)hose"))
    site.load()
    assert "a pattern of [file.extract] or [file.keep] cannot be used" in site.status(
        "orders.csv")[1]


BLANKS = (" ", "\t", "\n", "\u00a0", " \u202f ")


def of_texts(site, cells, mapping):
    """Load removals of one text, damage and state each; return row, mechanism."""
    site.write("orders.csv", "day,place,text,damage,state\n" + "".join(
        f'2020-01-{number:02},P1,"{text}","{damage}","{state}"\n'
        for number, (text, damage, state) in enumerate(cells, start=1)))
    site.write("columns.toml", MAPPING.split("[file.find")[0].replace(
        'ignore = ["text"]', 'ignore = ["text", "state"]') + mapping)
    site.load()
    assert site.is_balanced()
    return site.rows("select source_row, mechanism from raw.replacements order by 1")


FIND = '[file.find.mechanism]\ncolumn = "text"\nwords = { "cracked weld" = "weld_fitting" }\n'


@pytest.mark.parametrize("blank", BLANKS)
def test_words_are_found_whatever_blanks_part_them(site, blank):
    assert of_texts(site, [(f"a Cracked{blank}Weld", "", ""), ("crackedweld", "", "")], FIND) == [
        (2, "weld_fitting"), (3, None)]


@pytest.mark.parametrize("blank", ["", *BLANKS])
def test_a_blank_cell_states_nothing(site, blank):
    assert of_texts(site, [("cracked weld", blank, "")], FIND) == [(2, "weld_fitting")]


def test_a_word_that_means_nothing_states_nothing_and_stays_as_it_was_read(site):
    nothing = '[file.words.mechanism]\n"N/A" = ""\n'
    assert of_texts(site, [("cracked weld", "n/a ", ""), ("pump", "N/A", ""),
                           ("cracked weld", "squirm", "")], FIND + nothing) == [
        (2, "weld_fitting"), (3, "N/A"), (4, "squirm")]


@pytest.mark.parametrize("blank", BLANKS)
def test_rows_to_keep_and_to_skip_are_told_without_outer_blanks(site, blank):
    texts = [("hose", "", f"{blank}open{blank}"), (f"{blank}hose{blank}", "", "open"),
             ("hose", "", blank), ("hose", "", f"void{blank}"), ("hoses", "", "open")]
    assert [row for row, _ in of_texts(
        site, texts, '[file.keep]\ntext = "^hose$"\n[file.skip]\nstate = ["", " void"]\n')] == [
        2, 3]
