"""The pages of trials in a browser: from the list to a plan and to a running trial."""

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_from_the_list_to_a_plan_and_to_its_place(visit):
    visit.open("/trials")
    assert visit.page.inner_text("nav a.here") == "Trials"
    visit.page.click("table.candidates tbody tr:nth-child(1) td:first-child a >> nth=0")
    visit.page.wait_for_selector("h2:text-is('Size and chances')")
    visit.page.wait_for_selector(".graph .js-plotly-plot .scatterlayer")
    assert visit.page.locator(".rule-block li").count() == 3
    visit.page.click("table.assignment tbody tr:nth-child(1) td:nth-child(2) a")
    visit.page.wait_for_selector(".timeline")
    visit.check()


@pytest.mark.parametrize("fixture", ["visit", "phone", "hostile_visit"])
def test_a_running_trial_fits_and_stays_text(request, fixture):
    visit = request.getfixturevalue(fixture)
    visit.page.on("dialog", lambda dialog: visit.faults.append(dialog.message))
    visit.open("/trials/T-1")
    visit.page.wait_for_selector(".graph .js-plotly-plot .scatterlayer")
    assert visit.page.inner_text(".rule-block h2") == "The rule, fixed before the start"
    if fixture == "phone":
        assert visit.page.evaluate("document.documentElement.scrollWidth") <= 390
    assert visit.page.evaluate(
        "document.querySelectorAll('main script, main b b, main a[href^=javascript]').length"
    ) == 0
    visit.check()
