"""The sheet of rough physics in a browser: fits a phone, works out what is typed."""

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_the_sheet_fits_a_phone_and_works_out_what_is_typed(phone):
    phone.open("/physics")
    assert phone.page.evaluate("document.documentElement.scrollWidth") <= 390
    phone.page.fill("input[name=bend_radius_mm]", "250")
    phone.page.fill("input[name=offset_mm]", "25")
    phone.page.click(".physics button >> nth=2")
    phone.page.wait_for_selector("text=Live length for the offset")
    assert "offset_mm=25" in phone.page.url
    assert phone.page.input_value("input[name=offset_mm]") == "25"
