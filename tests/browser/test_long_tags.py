"""Tags of many digits come out of the files and through the browser sign by sign.

Kind of plotly/dash-table #481 and marmelab/react-admin #288: a number beyond 2^53 is rounded by
whoever takes a tag for one, so that two things become one row or one link.
"""

import re

import pytest

from etl import run
from tests.browser.conftest import served, visit_to
from tests.faults.small import new_store, write_logs

pytestmark = [pytest.mark.browser, pytest.mark.slow]

PLACES = ("20250306000000019", "20250306000000021", "0021", "21")
HOSES = ("90071992547409931", "90071992547409932", "0007", "7")
"""The first two of each are one number to a program that counts in doubles."""
LOGS = {
    "service_points.csv": "service_point,application_class\n"
    + "".join(f"{place},loop\n" for place in PLACES),
    "installations.csv": "installed_on,service_point,hose_id,construction\n" + "".join(
        f"2020-0{number}-01,{place},{hose},C-1\n"
        for number, (place, hose) in enumerate(zip(PLACES, HOSES, strict=True), start=1)),
    "replacements.csv": "removed_on,service_point,hose_id,reason\n"
    f"2021-01-01,{PLACES[0]},{HOSES[0]},failed\n",
}


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    folder = tmp_path_factory.mktemp("tags")
    store = new_store(folder / "store")
    run.load(write_logs(folder / "logs", LOGS), store)
    with served(store) as address:
        yield address


def test_each_tag_is_a_row_and_leads_to_its_own_place(chromium, address):
    assert float(PLACES[0]) == float(PLACES[1])
    assert float(HOSES[0]) == float(HOSES[1])
    visit = visit_to(chromium, address)
    visit.open("/places")
    visit.page.wait_for_selector("#places-grid .ag-row a.place")
    shown = visit.page.locator("#places-grid .ag-row a.place").all_inner_texts()
    assert sorted(shown) == sorted(PLACES)
    for place, hose in zip(PLACES, HOSES, strict=True):
        visit.open("/places")
        visit.page.locator("#places-grid .ag-row a.place").get_by_text(place, exact=True).click()
        visit.page.wait_for_url(re.compile(f"/places/{place}$"))
        visit.settled()
        visit.page.wait_for_function(
            "name => document.querySelector('h1')?.innerText.includes(name)", arg=place)
        said = visit.said()
        assert hose in said
        assert set(re.findall(r"\d{17}", said)) <= {*PLACES, *HOSES}  # some rows are neighbours
    visit.check()
    visit.page.context.close()


SHOWN = """names => [...document.querySelectorAll('#places-grid .ag-row a.place')]
    .map(link => link.innerText).join() === names.join()"""


def test_order_and_filter_of_the_table_go_by_the_signs(chromium, address):
    visit = visit_to(chromium, address)
    page = visit.page
    visit.open("/places?text=20250306")
    for expected in (PLACES[:2], PLACES[1::-1]):
        page.locator("#places-grid .ag-header-cell[col-id=service_point]").click()
        page.wait_for_function(SHOWN, arg=list(expected))
    for typed, left in ((PLACES[1], [PLACES[1]]), ("0021", [PLACES[1], "0021"])):
        page.locator("#places-text").fill(typed)
        page.wait_for_function(SHOWN, arg=left)
        page.locator(f"#places-downloads a[href*='text={typed}']").first.wait_for()
        with page.expect_download() as got:
            page.locator("#places-downloads a").first.click()
        lines = got.value.path().read_text(encoding="utf-8-sig").splitlines()
        at = lines[0].split(",").index("service_point")
        assert sorted(line.split(",")[at] for line in lines[1:]) == sorted(left)
    visit.check()
    page.context.close()
