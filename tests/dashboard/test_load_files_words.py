"""What the page for one's own files says of the mapping file is what the mapping file takes."""

import pytest

from dashboard.words import start as words_start
from etl.load.mapping import FileEntry, parse_mapping
from etl.load.typed_cells import NO_CALENDAR, NO_WORD
from etl.load.vocabulary import REMEDIES

ON_THE_PAGE = {"match", "log", "date_formats", "decimal", "thousands", "serial_days_from", "months",
               "ignore", "columns", "words", "units", "keep", "currency"}
"""What is chosen on the page, or found out by it."""


@pytest.mark.parametrize(("key", "what", "lines"), words_start.BY_HAND)
def test_every_example_is_read_as_it_stands(key, what, lines):
    entry = '[[file]]\nmatch = "a.csv"\nlog = "replacements"\n'
    if "clock" in lines:
        entry = entry.replace("replacements", "usage")
    text = f"{lines}\n{entry}" if key == "renamed_places" else entry + lines
    parse_mapping(text)
    assert what


def test_every_key_of_an_entry_is_on_the_page_or_told_on_it():
    told = {word.removeprefix("file.") for key, _, _ in words_start.BY_HAND
            for word in key.split(", ")}
    assert FileEntry.model_fields.keys() <= ON_THE_PAGE | told


def test_what_to_do_on_the_page_is_about_reasons_that_there_are():
    assert words_start.ABOVE.keys() <= {*REMEDIES, NO_WORD}
    assert NO_CALENDAR in words_start.ABOVE
