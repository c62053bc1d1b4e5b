"""The pages of teardowns in a browser: from the list to one hose and back to its place."""

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_from_the_list_to_one_hose_and_to_its_place(visit):
    visit.open("/teardown")
    assert visit.page.inner_text("nav a.here") == "Teardown"
    visit.page.click("table.teardowns tbody tr:nth-child(2) td:first-child a >> nth=0")
    visit.page.wait_for_selector("h2:text-is('What the findings say')")
    visit.page.click("p.lead a.place")
    visit.page.wait_for_selector("h2:text-is('What teardowns show')")
    visit.check()


@pytest.mark.parametrize("fixture", ["phone", "hostile_visit"])
def test_the_list_and_a_hose_fit_and_stay_text(request, fixture):
    visit = request.getfixturevalue(fixture)
    visit.page.on("dialog", lambda dialog: visit.faults.append(dialog.message))
    visit.open("/teardown")
    for _ in range(2):
        if fixture == "phone":
            assert visit.page.evaluate("document.documentElement.scrollWidth") <= 390
        assert visit.page.evaluate(
            "document.querySelectorAll('main script, main b b, main a[href^=javascript]').length"
        ) == 0
        if visit.page.locator("table.teardowns").count():
            visit.page.click("table.teardowns tbody tr:nth-child(3) td:first-child a >> nth=0")
            visit.page.wait_for_selector("h2:text-is('What the findings say')")
    visit.check()
