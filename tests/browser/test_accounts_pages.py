"""Signing in, inviting and being invited, as people do it in a browser."""

import json

import pytest

from dashboard.accounts import forms
from etl.account import keep, passwords
from tests.browser.conftest import served, visit_to
from tests.dashboard.edition_maker import make_edition

sync_playwright = pytest.importorskip(
    "axe_playwright_python.sync_playwright", reason="axe is not installed")

PASSWORD = "copper kettle on the roof"
SIZES = ((1440, 900), (1024, 768), (390, 844))
WIDE = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


@pytest.fixture
def guarded(tmp_path, monkeypatch):
    """Address of pages with one keeper."""
    monkeypatch.setattr(passwords, "HASHER", passwords.argon2.PasswordHasher(1, 8, 1))
    make_edition(tmp_path, "full")
    keep.add(tmp_path, "Ann", "keeper", PASSWORD)
    with served(tmp_path) as address:
        yield address


def is_sound(visit, is_examined=True):
    """Check that a page fits every screen, and breaks no rule of axe-core."""
    for width, height in SIZES:
        visit.page.set_viewport_size({"width": width, "height": height})
        assert visit.page.evaluate(WIDE) <= 0, (visit.page.url, width)
    found = sync_playwright.Axe().run(visit.page).response["violations"] if is_examined else []
    assert not found, json.dumps(found, indent=1)[:3000]


@pytest.mark.browser
def test_a_keeper_invites_and_the_invited_comes_in(chromium, guarded):
    keeper = visit_to(chromium, guarded)
    keeper.page.goto(guarded + "/places?site=North")
    assert "/sign-in" in keeper.page.url
    is_sound(keeper)
    assert keeper.page.evaluate("document.cookie") == ""  # no script can read what it holds
    keeper.page.get_by_label("Name").fill("ann")
    keeper.page.get_by_label("Password").fill("wrong")
    keeper.page.get_by_role("button", name="Sign in").click()
    assert keeper.page.get_by_role("alert").inner_text() == "Name or password are not right."
    assert [fault for fault in keeper.faults if "401" not in fault] == []
    keeper.faults.clear()
    password = keeper.page.get_by_label("Password")
    password.fill(PASSWORD)
    assert password.get_attribute("type") == "password"
    keeper.page.get_by_label("Show what I type").check()
    assert password.get_attribute("type") == "text"
    keeper.page.get_by_label("Show what I type").uncheck()
    assert password.get_attribute("type") == "password"
    keeper.page.get_by_label("Show what I type").check()
    is_sound(keeper)
    password.press("Enter")
    keeper.settled()
    assert keeper.page.url == guarded + "/places?site=North"
    keeper.open("/data-health")
    keeper.page.get_by_role("link", name="More, and the accounts").click()
    keeper.page.get_by_label("Name to sign in with").fill("Bo <i>B</i>")
    keeper.page.get_by_label("Role", exact=True).select_option("recorder")
    keeper.page.get_by_role("button", name="Make a link").click()
    is_sound(keeper)
    link = keeper.page.get_by_label("Hand this link over yourself").input_value()
    assert "Bo <i>B</i>" in keeper.said()  # as text, in what was done last
    keeper.check()

    invited = visit_to(chromium, guarded, color_scheme="dark")
    invited.page.goto(link)
    is_sound(invited, is_examined=False)  # in form the page to sign in
    invited.page.get_by_label("New password").fill("a rope of one's own")
    invited.page.get_by_role("button", name="Set it and sign in").click()
    invited.settled()
    assert "Bo <i>B</i>, recorder" in invited.said()
    invited.check()
    invited.page.goto(link)
    assert "This link is no longer good" in invited.said()
    invited.page.goto(guarded + "/accounts")
    assert "Your role does not allow this" in invited.said()
    invited.page.goto(guarded + "/data-health")
    invited.settled()
    assert "What was done last" not in invited.said()
    invited.page.get_by_role("button", name="Sign out").click()
    invited.page.wait_for_url("**/sign-in")
    invited.page.goto(guarded + "/")
    assert "/sign-in" in invited.page.url

    keeper.page.goto(guarded + "/accounts")
    keeper.page.get_by_label("Role of Bo <i>B</i>", exact=True).select_option("viewer")
    keeper.page.get_by_role("button", name="Change role of Bo <i>B</i>").click()
    assert keeper.page.get_by_label("Role of Bo <i>B</i>", exact=True).input_value() == "viewer"
    keeper.page.get_by_role("button", name="Remove Bo <i>B</i>").click()
    assert not keeper.page.get_by_label("Role of Bo <i>B</i>", exact=True).count()
    keeper.page.get_by_role("button", name="Remove Ann").click()
    assert "this is the last keeper" in keeper.page.get_by_role("alert").inner_text()
    assert forms.STALE not in keeper.said()
    for visit in (keeper, invited):
        visit.page.context.close()
