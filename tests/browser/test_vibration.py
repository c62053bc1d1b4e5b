"""The page about vibration in a browser: drawn without a fault, fits a phone, asks for a place."""

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_the_page_opens_without_a_fault(visit):
    visit.open("/vibration")
    visit.check()
    assert visit.page.inner_text("nav a.here") == "Vibration"
    assert visit.page.locator(".maps .js-plotly-plot .heatmaplayer").count() == 2


def test_it_fits_a_phone(phone):
    phone.open("/vibration")
    assert phone.page.evaluate("document.documentElement.scrollWidth") <= 390
    phone.check()


def test_hostile_names_stay_text(hostile_visit):
    hostile_visit.page.on("dialog", lambda dialog: hostile_visit.faults.append(dialog.message))
    hostile_visit.open("/vibration")
    hostile_visit.check()


def test_a_place_is_asked_for_by_name(demo_visit):
    demo_visit.open("/vibration")
    demo_visit.page.fill("#vibration-place", "HD-2 discharge A")
    demo_visit.page.click("form.find-place button")
    demo_visit.page.wait_for_url("**/vibration?place=HD-2*")
    demo_visit.settled()
    assert "At HD-2 discharge A" in demo_visit.page.inner_text("main")
    demo_visit.check()
