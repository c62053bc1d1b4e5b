"""No page of lives, trials, spares or data health shows an absence as a number or a blank."""

import re

import pytest

ADDRESSES = [
    "/lives", "/lives?measure=characteristic_life&estimate=alone", "/lives?measure=shape",
    "/lives/homogeniser%20discharge/C-304-OP1", "/lives/nitrogen%20transfer/C-316-CP1",
    "/lives/nitrogen%20transfer/C-316-CP1?mechanism=braid_wear",
    "/trials", "/trials/T-1", "/spares", "/spares?part=C-316-OP2B-25", "/data-health",
]
NOT_WORDS = re.compile(r"\b(nan|NaN|None|NaT|inf|null|undefined|Traceback)\b")


@pytest.fixture(scope="module")
def readers(full, empty, hostile):
    return {"full": full, "empty": empty, "hostile": hostile}


@pytest.mark.parametrize("address", ADDRESSES)
@pytest.mark.parametrize("state", ["full", "empty", "hostile"])
def test_a_page_speaks_in_words(readers, state, address):
    text = readers[state].text(address)
    assert len(text) > 40
    assert not NOT_WORDS.search(text)
    assert "could not be shown" not in text
    assert "This page" not in text or "404" not in text


@pytest.mark.parametrize("address", ADDRESSES)
def test_a_stray_word_in_the_address_breaks_nothing(readers, address):
    tail = "&" if "?" in address else "?"
    assert readers["full"].text(f"{address}{tail}utm=1&text=%3Cb%3E&page=-1") != ""
