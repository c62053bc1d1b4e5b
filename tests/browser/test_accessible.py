"""Every page by the rules of axe-core: WCAG 2.2 at levels A and AA, and good practice."""

import json

import pytest

sync_playwright = pytest.importorskip(
    "axe_playwright_python.sync_playwright", reason="axe is not installed")

PAGES = ("/", "/places", "/lives", "/vibration", "/teardown", "/trials", "/spares", "/guide",
         "/track-record", "/data-health", "/data-health/check-file", "/physics", "/start",
         "/nothing")
LEADS_TO = {"/": "a[href^='/places/']", "/lives": "a[href^='/lives/']",
            "/trials": "table.candidates a[href^='/trials/']",
            "/teardown": "main a[href^='/teardown/']"}
"""Pages that lead to one place, one kind of hose, one plan of a trial and one hose taken apart."""
OTHER = {"light": "dark", "dark": "light"}


def addresses(visit):
    """Return the pages to look at, with one of each page that shows one thing."""
    found = list(PAGES)
    for page, link in LEADS_TO.items():
        visit.open(page)
        found.append(visit.page.locator(link).first.get_attribute("href"))
    return found


@pytest.mark.browser
@pytest.mark.parametrize(("size", "scheme"), [((1440, 900), "light"), ((390, 844), "dark")],
                         ids=["desk-light", "phone-dark"])
def test_no_page_breaks_a_rule(visit, size, scheme):
    visit.page.set_viewport_size({"width": size[0], "height": size[1]})
    visit.page.emulate_media(color_scheme=scheme)
    axe = sync_playwright.Axe()
    broken = {}
    for address in addresses(visit):
        visit.open(address)
        result = axe.run(visit.page).response
        assert len(result["passes"]) > 20  # the checker did look
        for fault in result["violations"]:
            broken[address, fault["id"]] = [node["html"][:120] for node in fault["nodes"][:3]]
        visit.page.emulate_media(color_scheme=OTHER[scheme])
        pale = axe.run(visit.page, options={"runOnly": ["color-contrast"]}).response
        for fault in pale["violations"]:
            broken[address, OTHER[scheme]] = [node["html"][:120] for node in fault["nodes"][:3]]
        visit.page.emulate_media(color_scheme=scheme)
    assert not broken, json.dumps({" ".join(key): value for key, value in broken.items()}, indent=1)


@pytest.mark.browser
def test_the_checker_finds_what_is_wrong(visit):
    visit.open("/")
    visit.page.evaluate(
        "document.querySelector('.page').insertAdjacentHTML('beforeend', "
        "'<img src=\"data:,\"><p style=\"color:#ddd;background:#fff\">pale</p>')")
    found = {fault["id"] for fault in sync_playwright.Axe().run(visit.page).response["violations"]}
    assert {"image-alt", "color-contrast"} <= found
