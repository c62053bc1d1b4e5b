"""Pages and published sentences call a mechanism by one name."""

import pytest

from dashboard import words
from etl.load.seeds import rows


@pytest.mark.parametrize("row", rows("mechanisms"), ids=lambda row: row["mechanism"])
def test_a_mechanism_has_one_name_on_pages_and_in_sentences(row):
    assert words.mechanism(row["mechanism"]) == row["short"]
