"""Every kind of hose and every part of the demo fleet is shown in words, never as NaN or None."""

import pytest

from dashboard.parts.matrix import kind_href
from tests.dashboard.page_reader import Reader
from tests.dashboard.test_absences import NOT_WORDS

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def demo(demo_store):
    return Reader(demo_store)


def ask(reader, statement):
    with reader.app.server.app_context():
        from dashboard.queries import edition
        return edition.ask(statement)


def test_every_kind_of_hose_by_every_mechanism(demo):
    rows = ask(demo, "select application_class, construction, mechanism from fits order by all")
    assert len({(row["application_class"], row["construction"]) for row in rows}) > 20
    for row in rows:
        mechanism = None if row["mechanism"] == "all" else row["mechanism"]
        address = kind_href(row["application_class"], row["construction"], mechanism=mechanism)
        text = demo.text(address)
        assert "Its hoses" in text, address
        assert not NOT_WORDS.search(text), address


def test_every_choice_of_the_matrix(demo):
    rows = ask(demo, "select distinct mechanism from fits order by mechanism")
    for row in rows:
        for measure in ("b10", "characteristic_life", "shape"):
            for estimate in ("pooled", "alone"):
                text = demo.text(f"/lives?mechanism={row['mechanism']}&measure={measure}"
                                 f"&estimate={estimate}")
                assert " failed, " in text
                assert not NOT_WORDS.search(text), (row, measure, estimate)


def test_every_part(demo):
    for row in ask(demo, "select part_number from spares order by part_number"):
        text = demo.text(f"/spares?part={row['part_number']}")
        assert f"{row['part_number']}: demand against stock" in text
        assert not NOT_WORDS.search(text), row


@pytest.mark.parametrize("address", ["/trials", "/data-health"])
def test_the_other_pages(demo, address):
    assert not NOT_WORDS.search(demo.text(address))
