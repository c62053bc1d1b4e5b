"""The page of all places and the page of one place."""

import re

import pytest

from dashboard import words
from dashboard.parts import place_href
from dashboard.parts.places import sections as parts_places
from tests.dashboard.edition_maker import HOSTILE, tables
from tests.dashboard.page_reader import found
from tests.dashboard.page_reader import words as said

NOT_WORDS = re.compile(r"\b(nan|NaN|None|NaT|inf|null|undefined|Traceback)\b")


def rows_of(reader, filters=None, sort=(), start=0, stop=25):
    request = {"startRow": start, "endRow": stop, "sortModel": list(sort), "filterModel": {
        f"filter_{k}": {"filterType": "text", "filter": v} for k, v in (filters or {}).items()}}
    answer = reader.call("..places-grid.getRowsResponse", {"places-grid.getRowsRequest": request})
    return answer["places-grid"]["getRowsResponse"]


def test_sentence_counts_places_and_their_share_of_cost(full):
    ranking = tables("full")["ranking"]
    faster = [r for r in ranking if r["is_failure_prone"]]
    total = sum(r["expected_cost"] or 0 for r in ranking)
    share = sum(r["expected_cost"] or 0 for r in faster) / total
    text = full.text("/places")
    assert f"{len(faster)} go through hoses faster" in text
    assert words.percent(share) in text
    assert words.money(total, "GBP") in text


def test_table_answers_page_by_page(full):
    first = rows_of(full)
    assert first["rowCount"] == 60
    assert len(first["rowData"]) == 25
    assert len(rows_of(full, start=50, stop=75)["rowData"]) == 10
    ranked = [r["service_point"] for r in tables("full")["ranking"][:25]]
    assert [row["service_point"]["text"] for row in first["rowData"]] == ranked


def test_table_sorts_and_filters_on_the_server(full):
    sort = [{"colId": "relative_rate", "sort": "desc"}]
    rows = rows_of(full, {"application_class": "vacuum line"}, sort)
    assert rows["rowCount"] == 10
    rates = {r["service_point"]: r["relative_rate"] for r in tables("full")["ranking"]}
    seen = [rates[row["service_point"]["text"]] for row in rows["rowData"]]
    assert seen == sorted(seen, reverse=True)


def test_absent_figures_are_words_in_the_table(full):
    rows = rows_of(full, {"flag": "no hose"})["rowData"]
    assert {row["construction"]["first"] for row in rows} == {"no hose yet", "retired"}
    assert all("absent" in row["failure_probability_90_days"] for row in rows)
    costless = rows_of(full, {"application_class": "vacuum line"})["rowData"]
    assert all(row["expected_cost"] == {"absent": "cost not known"} for row in costless)


@pytest.mark.parametrize("request_", [None, {"filterModel": 1, "sortModel": 2}])
def test_a_forged_request_is_answered_calmly(full, request_):
    full.call("..places-grid.getRowsResponse", {"places-grid.getRowsRequest": request_})


@pytest.mark.parametrize(("address", "wanted"), [
    ("/places?site=Nowhere", "No place has site “Nowhere”"),
    ("/places?colour=red", "There is no filter “colour”"),
    ("/places?flag=%3Cscript%3E", "“<script>”"),
])
def test_a_broken_filter_says_so_with_a_way_back(full, address, wanted):
    layout = full.layout(address)
    assert wanted in full.text(address)
    assert found(layout, "Link")[0]["href"] == "/places"


def test_filters_of_the_address_fill_the_boxes_and_the_table(full):
    layout = full.layout("/places?site=Estwater&text=hd")
    assert [s["value"] for s in found(layout, "Select") if s["id"] == "places-site"] == ["Estwater"]
    model = found(layout, "AgGrid")[0]["filterModel"]
    assert {name: item["filter"] for name, item in model.items()} == {
        "filter_site": "Estwater", "filter_text": "hd"}


def test_a_narrow_screen_gets_a_list_and_can_ask_for_more(full):
    def ask(width, clicks):
        return full.call("..places-list.children", {
            "places-filters.data": {"site": "Estwater"}, "shell-width.data": width,
            "places-more.n_clicks": clicks})

    assert "places-list" not in ask("wide", None)
    once = ask("narrow", None)["places-list"]["children"]
    assert len(found(once, "Li")) == 15
    assert "site=Estwater" in str(ask("narrow", 1)["places-downloads"])
    assert re.search(r"£.{1,9}[\d,]+ a year, 90 % range [\d,]+ to [\d,]+", " ".join(said(once)))


@pytest.mark.parametrize("place", tables("full")["service_points"][::7] + [
    tables("full")["service_points"][i] for i in (41, 57)], ids=lambda p: p["service_point"])
def test_page_of_a_place_speaks_in_words(full, place):
    text = full.text(place_href(place["service_point"]))
    assert place["service_point"] in text
    assert not NOT_WORDS.search(text)
    assert words.evidence(place["n_failures"], place["n_suspensions"]) in text


def test_page_of_a_place_carries_every_row_with_file_and_number(full):
    name = tables("full")["service_points"][0]["service_point"]
    text = full.text(place_href(name))
    for row in tables("full")["log_rows"]:
        if row["service_point"] == name:
            assert f"{row['source_file']}, row {row['source_row']}" in text
    assert "31/02/2024" in text
    assert "refused" in text


def test_neighbours_lead_along_the_line_and_back(full):
    places = tables("full")["service_points"]
    line = sorted(p["service_point"] for p in places
                  if (p["site"], p["line"]) == (places[0]["site"], places[0]["line"]))
    for i, name in enumerate(line):
        text = full.text(place_href(name))
        assert f"{i + 1} of {len(line)} on this line" in text
        assert ("Previous: " in text) == (i > 0)
        assert ("Next: " in text) == (i < len(line) - 1)


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_name_is_shown_as_text(hostile, name):
    layout = hostile.layout(place_href(name))
    text = hostile.text(place_href(name))
    assert name in text
    assert "There is no place" not in text
    for link in found(layout, "Link") + found(layout, "A"):
        assert link["href"].startswith(("/", "#"))
    assert not found(layout, "Markdown")


def test_a_hostile_name_is_reached_through_the_server_too(hostile):
    for name in HOSTILE:
        assert hostile.client.get(place_href(name)).status_code == 200


@pytest.mark.parametrize("address", ["/places/none-such", "/places/%00", "/places/" + "x" * 3000,
                                     "/places/<script>"])
def test_a_missing_place_says_so_with_a_way_back(full, address):
    assert "There is no place called" in full.text(address)
    assert found(full.layout(address), "Link")[0]["href"] == "/places"


@pytest.mark.parametrize("address", ["/", "/places", "/places/HD-1%20discharge"])
def test_an_empty_edition_says_so(empty, address):
    text = empty.text(address)
    assert "No place is on record yet" in text or "There is no place" in text
    assert not NOT_WORDS.search(text)


@pytest.mark.parametrize("address", ["/", "/places", "/places/HD-1%20discharge"])
def test_a_stray_word_in_the_address_breaks_nothing(full, address):
    text = full.text(address + "?utm=1")
    assert "could not be shown" not in text


def test_every_filter_has_a_box_and_a_condition():
    from dashboard.queries.places import PLACES

    assert set(parts_places.FILTERS) == set(PLACES.filters)


@pytest.mark.parametrize(("address", "said"), [
    ("/places?sort=price", "cannot be sorted by “price”"),
    ("/places?page=0", "“0” is not the number of a page")])
def test_an_order_or_page_that_is_not_there_is_said(full, address, said):
    assert said in full.text(address)


def test_a_page_past_the_last_is_the_last(full):
    (grid,) = found(full.layout("/places?page=99"), "AgGrid")
    assert grid["dashGridOptions"]["initialState"]["pagination"]["page"] == 2
