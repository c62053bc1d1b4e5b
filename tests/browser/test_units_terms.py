"""The reader's units stay with browser and address; a word's meaning is one key away."""

import pytest


def test_units_and_meanings_follow_the_reader(visit):
    visit.open("/vibration")
    page = visit.page
    assert "mm/s" in visit.said()
    page.locator("#shell-units").click()
    page.wait_for_url("**units=us*")
    visit.settled()
    assert "in/s" in visit.said()
    page.get_by_role("link", name="Lives", exact=True).click()
    page.wait_for_url("**/lives?units=us")  # an address to be shared opens the same view
    visit.open("/lives?units=si")
    assert page.locator("#shell-units").inner_text() == "US units"
    word = page.locator("button.term").first
    meaning = page.locator("#" + word.get_attribute("aria-describedby"))
    assert not meaning.is_visible()
    word.focus()
    assert meaning.is_visible()
    page.keyboard.press("Escape")
    assert not meaning.is_visible()
    visit.check()


@pytest.mark.parametrize(("path", "last"), [
    ("/places", ".ag-cell"), ("/vibration", "#vibration-place"),
    ("/physics", "form.physics button, .physics button"), ("/spares", ".ag-header-cell")])
def test_the_keyboard_reaches_everything_and_shows_where_it_is(visit, path, last):
    """Every stop of the Tab key is outlined: links, choices, boxes, up to the table or a button."""
    visit.open(path)
    page, seen = visit.page, []
    page.locator(last).first.wait_for()
    for _ in range(90):
        page.keyboard.press("Tab")
        stop = page.evaluate("""last => {
            const at = document.activeElement, look = getComputedStyle(at);
            return [at.className + ' ' + at.id, at.closest(last) !== null,
                    look.outlineStyle !== 'none' || look.boxShadow !== 'none']; }""", last)
        seen.append(stop)
        if stop[1]:
            break
    assert seen[-1][1], seen[-5:]
    assert [name for name, _, is_shown in seen if not is_shown] == []
