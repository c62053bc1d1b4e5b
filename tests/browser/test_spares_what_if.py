"""What if on Spares: the answer changes at once, and the address keeps the question."""

ANSWER = "(document.querySelector('#spares-what-if') || document.body).innerText"


def test_a_longer_lead_time_is_answered_and_kept_in_the_address(visit):
    visit.open("/spares")
    visit.page.wait_for_selector("#spares-what-if p")
    assert "No part of 16 would change" in visit.page.inner_text("#spares-what-if")
    visit.page.get_by_label("Every lead time").first.click()
    visit.page.click("[role=option]:has-text('twice as long')")
    visit.page.wait_for_function(f"() => {ANSWER}.includes('16 parts of 16 would change')")
    assert "factor=2" in visit.page.url
    said = visit.page.inner_text("#spares-what-if p")
    visit.page.reload()
    visit.page.wait_for_function(f"() => {ANSWER}.includes('16 parts of 16 would change')")
    assert visit.page.inner_text("#spares-what-if p") == said
    visit.check()


def test_the_report_is_handed_out_from_this_month(visit):
    visit.open("/")
    with visit.page.expect_download() as waiting:
        visit.page.get_by_text("one page", exact=True).click()
    assert waiting.value.suggested_filename == "braidlife-2026-10.html"
    text = waiting.value.path().read_text(encoding="utf-8")
    assert "Ten places to act on" in text
    visit.check()
