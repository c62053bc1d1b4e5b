"""Pages that rest on forecasts say how many failures that no log holds yet they allow for."""

import pytest

from dashboard.parts import due
from tests.dashboard.page_reader import Reader

SAID = "that no log holds yet are allowed for"


@pytest.mark.parametrize("address", ["/", "/spares", "/lives"])
def test_pages_say_how_many_late_failures_are_allowed_for(stores, address):
    text = Reader(stores["full"]).text(address)
    assert f"about 4 failures (1 to 8) {SAID}" in text


def test_the_work_list_says_to_read_the_tag_first_where_logs_come_late(stores):
    reader, asked = Reader(stores["full"]), "Read its tag first"
    assert asked in reader.text("/")
    year = {"n_due": 3, "expected": 2.5, "all_work": 2.5, "cost": None, "is_late": False}
    assert asked not in due.year_words(year, "GBP")
    assert asked in due.year_words(year | {"is_late": True}, "GBP")


@pytest.mark.parametrize("address", ["/lives?estimate=alone", "/data-health"])
def test_pages_of_the_record_as_it_stands_do_not(stores, address):
    assert SAID not in Reader(stores["full"]).text(address)
