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
PALE = "axe.run({runOnly: ['color-contrast']}).then(result => result.violations)"
OTHER = {"light": "dark", "dark": "light"}


def all_pages(visit):
    """Open the pages one after another, and one of each page that shows one thing; yield them."""
    found = list(PAGES)
    for address in found:
        visit.open(address)
        yield address
        if address in LEADS_TO:
            found.append(visit.page.locator(LEADS_TO[address]).first.get_attribute("href"))


@pytest.mark.browser
@pytest.mark.parametrize(("size", "scheme"), [((1440, 900), "light"), ((390, 844), "dark")],
                         ids=["desk-light", "phone-dark"])
def test_no_page_breaks_a_rule(visit, size, scheme):
    visit.page.set_viewport_size({"width": size[0], "height": size[1]})
    visit.page.emulate_media(color_scheme=scheme)
    axe = sync_playwright.Axe()
    broken = {}
    n_pages = 0
    for address in all_pages(visit):
        n_pages += 1
        result = axe.run(visit.page).response
        assert len(result["passes"]) > 20  # the checker did look
        for fault in result["violations"]:
            broken[address, fault["id"]] = [node["html"][:120] for node in fault["nodes"][:3]]
        visit.page.emulate_media(color_scheme=OTHER[scheme])
        for fault in visit.page.evaluate(PALE):  # the checker is in the page already
            broken[address, OTHER[scheme]] = [node["html"][:120] for node in fault["nodes"][:3]]
        visit.page.emulate_media(color_scheme=scheme)
    assert n_pages == len(PAGES) + len(LEADS_TO)
    assert not broken, json.dumps({" ".join(key): value for key, value in broken.items()}, indent=1)


@pytest.mark.browser
def test_the_checker_finds_what_is_wrong(visit):
    visit.open("/")
    visit.page.evaluate(
        "document.querySelector('.page').insertAdjacentHTML('beforeend', "
        "'<img src=\"data:,\"><p style=\"color:#ddd;background:#fff\">pale</p>')")
    found = {fault["id"] for fault in sync_playwright.Axe().run(visit.page).response["violations"]}
    assert {"image-alt", "color-contrast"} <= found
