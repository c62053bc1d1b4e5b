"""The pages of the demo fleet, loaded from its logs, as a person would walk through them."""

import re

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.mark.parametrize("path", ["/", "/places", "/lives", "/trials", "/spares",
                                  "/track-record", "/data-health"])
def test_a_page_of_the_demo_opens_without_a_fault(demo_visit, path):
    demo_visit.open(path)
    demo_visit.check()
    assert len(demo_visit.page.inner_text("h1")) > 20


def test_from_a_place_to_its_rows(demo_visit):
    demo_visit.open("/places")
    demo_visit.page.locator("#places-grid .ag-row a.place").first.click()
    demo_visit.page.wait_for_url(re.compile("/places/"))
    demo_visit.settled()
    demo_visit.check()


def test_from_the_matrix_to_a_plot_with_its_hoses(demo_visit):
    demo_visit.open("/lives")
    demo_visit.page.click(".matrix-cell >> nth=0")
    demo_visit.page.wait_for_url(re.compile("/lives/.+/.+"))
    demo_visit.page.wait_for_selector(".js-plotly-plot .scatterlayer")
    demo_visit.page.wait_for_selector("#life-cell-hoses .ag-row a.place")
    demo_visit.check()


def test_every_table_of_the_demo_is_handed_out(demo_visit):
    for table in ("fits", "spares", "refused", "trials", "loads", "hoses", "refused_rows"):
        answer = demo_visit.page.request.get(f"{demo_visit.address}/download/{table}.csv")
        assert answer.ok
        assert len(answer.text().strip().splitlines()) > 10
