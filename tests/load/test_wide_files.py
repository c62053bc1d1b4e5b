"""A file of many columns is looked at as one of few columns is, only sooner."""

import difflib

from etl.load import names
from etl.load.check import check_path
from etl.load.columns import LOGS
from etl.load.headings import FOREIGN
from etl.load.look import AT_A_TIME, WIDE

KINDS = ("31.01.2020;01.02.2020;", "1,5;2,25;7", "yes;no;yes", "leak;leak;wear", ";;", " a;b ;'c")


def looks(site, n_columns):
    """Return what the columns of a file look like whose kinds of cells come again and again."""
    columns = [KINDS[number % len(KINDS)].split(";") for number in range(n_columns)]
    lines = [[f"x{number}" for number in range(n_columns)], *zip(*columns, strict=True)]
    file = site.write(f"wide{n_columns}.csv", "\n".join(map(";".join, lines)) + "\n")
    [report] = check_path(file).files
    return report.columns


def test_each_column_of_a_wide_file_looks_as_it_does_in_a_narrow_one(site):
    narrow = looks(site, len(KINDS))
    wide = looks(site, WIDE + AT_A_TIME + 3)
    assert [look.looks_like for look in narrow] == [
        "days", "numbers", "yes or no", "text", "empty", "text"]
    assert len(wide) == WIDE + AT_A_TIME + 3
    for number, look in enumerate(wide):
        like = narrow[number % len(KINDS)]
        assert look.name == f"x{number}"
        assert {**vars(look), "name": ""} == {**vars(like), "name": ""}


def test_words_told_apart_by_lengths_or_letters_are_as_alike_as_compared_in_full():
    ours = sorted({word for log in LOGS.values() for column in log.names for word in (
        column, *names.SYNONYMS.get(column, "").split(), *FOREIGN.get(column, "").split())})
    theirs = [*ours[::3], *(word[1:] for word in ours[::5]), "21029627", "", "dato", "removal_date"]
    for wanted in theirs:
        for word in ours:
            full = difflib.SequenceMatcher(None, wanted, word).ratio()
            found = names._ratio(wanted, word)
            assert found == full or (found == 0.0 and full < names.ALIKE), (wanted, word)
