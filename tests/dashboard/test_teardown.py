"""Teardown: the list, the evidence of one hose, its part on the page of a place."""

import re
from urllib.parse import parse_qs, quote, unquote, urlencode, urlsplit

import pytest

from dashboard.parts.teardown import told as parts_teardown
from tests.dashboard import edition_fleet
from tests.dashboard.page_reader import found, words

NOT_WORDS = re.compile(r"\b(nan|NaN|None|NaT|inf|null|undefined|Traceback)\b")


@pytest.fixture(scope="module")
def text(full):
    return full.text("/teardown")


def hoses(reader):
    """Addresses of the hoses that the list links to."""
    return [link["href"] for link in found(reader.layout("/teardown"), "Link")
            if link["href"].startswith("/teardown?")]


def test_the_list_tells_level_chance_and_what_people_concluded(text):
    for part in ("the findings support a mechanism in", "leave one suspected in 22",
                 "vibration fatigue", "72\u00a0%, suspected", "kink, crease (hose outside)",
                 "only by exclusion", "nothing; counted as the findings suggest",
                 "nothing found speaks for any mechanism", "hose without a tag"):
        assert part in text


@pytest.mark.parametrize("state", ["full", "hostile"])
def test_every_hose_of_the_list_has_its_page(request, state):
    reader = request.getfixturevalue(state)
    listed = hoses(reader)
    assert len(listed) > 5
    for address in listed[:12]:
        shown = reader.text(address)
        assert "What the findings say" in shown, address
        assert not NOT_WORDS.search(shown), address


def test_one_hose_shows_for_and_against_open_points_and_remedies(full):
    shown = [full.text(address) for address in hoses(full)]
    assert all("prove zero energy" in one for one in shown)
    sure = [one for one in shown if "72\u00a0% likely by its findings" in one]
    for part in ("crests polished (strongly)", "only 34% of what bears on it was checked",
                 "Hold the pipe", "loads on the anchor", "common practice, no source",
                 "Suggestions for a qualified person"):
        assert all(part in one for one in sure), part
    nothing = [one for one in shown if "nothing found speaks for any mechanism" in one]
    assert nothing
    assert not any("What may be tried" in one for one in nothing)


@pytest.mark.parametrize("query", [
    {"hose": "no such hose"}, {"removed": "yesterday"}, {"place": "'; drop table lives; --"},
    {"hose": "<script>", "place": "x" * 300, "removed": "2020-13-99"},
])
def test_an_address_of_no_hose_says_so(full, query):
    assert "There is no teardown of this hose" in full.text("/teardown?" + urlencode(query))


def test_a_hose_is_found_by_its_tag_alone(full):
    tagged = [link for link in hoses(full) if "hose=" in link][0]
    tag = parse_qs(urlsplit(tagged).query)["hose"][0]
    assert full.text("/teardown?" + urlencode({"hose": tag})) == full.text(tagged)


def test_a_hose_that_nobody_took_apart_is_told_with_its_place(full):
    waiting = next(link["href"] for link in found(full.layout("/teardown"), "Link")
                   if link["href"].startswith("/teardown/"))
    tag = unquote(urlsplit(waiting).path.removeprefix("/teardown/"))
    place = parse_qs(urlsplit(waiting).query)["place"][0]
    shown = full.layout("/teardown?" + urlencode({"hose": tag}))
    assert "has not been taken apart" in " ".join(words(shown))
    links = [link["href"] for link in found(shown, "Link")]
    assert waiting in links
    assert f"/places/{quote(place, safe='')}" in links


def test_what_may_be_looked_for_is_listed_by_where(text):
    for part in ("What to look for", "Braid off", "Records", "crk_45", "slanting crack",
                 "torsion fatigue", "counts as not checked"):
        assert part in text


def test_an_edition_without_teardowns_says_so(empty):
    shown = empty.text("/teardown")
    assert "No hose taken apart is on record" in shown
    assert not NOT_WORDS.search(shown)


def test_the_page_of_a_place_shows_its_teardowns_and_screens(full):
    place = found(full.layout("/teardown"), "Link")
    named = next(link["href"] for link in place if link["href"].startswith("/places/"))
    assert "What teardowns show" in full.text(named)


def test_screens_say_source_range_rank_and_what_they_cannot_tell(full):
    name = edition_fleet.places()[0]["service_point"]
    shown = full.text(f"/places/{name.replace(' ', '%20')}")
    for part in ("Rough physics", "They rank, never clear", "34 to 64", "here 1.2 times that",
                 "number 2 of 4 measured places", "Energy Institute (2008); second-hand",
                 "What it leaves open: whether a hose will last"):
        assert part in shown, part
    assert "here 0.62" not in shown  # a frequency gets no verdict


def test_sentence_counts_agreement_only_where_people_concluded():
    counts = {"n": 4, "n_supported": 1, "n_suspected": 3, "n_logged": 0, "n_agree": 0}
    assert "people" not in str(parts_teardown.sentence(counts))
    assert "2 of 3" in str(parts_teardown.sentence(counts | {"n_logged": 3, "n_agree": 2}))
