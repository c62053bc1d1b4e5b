"""Logs without a declared currency: pages show amounts without naming one, and none breaks."""

import duckdb
import pytest

from tests.dashboard.edition_maker import make_edition
from tests.dashboard.page_reader import Reader


@pytest.fixture(scope="module")
def nameless(tmp_path_factory):
    store = tmp_path_factory.mktemp("store")
    make_edition(store, "full")
    with duckdb.connect(str(store / "editions" / "edition-000001.duckdb")) as con:
        con.execute("update edition set currency = null")
    return Reader(store)


@pytest.mark.parametrize("address", ["/", "/places", "/places/HD-1%20discharge", "/trials",
                                     "/spares", "/spares?part=C-304-OP1-25"])
def test_amounts_stand_without_the_name_of_a_currency(nameless, address):
    text = nameless.text(address)
    assert "could not be shown" not in text
    assert "None" not in text


def test_the_front_page_gives_its_costs_in_currency_units(nameless):
    assert "currency units" in nameless.text("/")
