"""The address holds what a reader chose: a shared link, Back and Forward show it again."""

import pytest

CLASS = "#places-application-class"
PLACES = "#places-grid .ag-row a.place"
FEW = 5
"""Rows that are compared: those below may still be drawn."""

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def steps(visit):
    return visit.page.evaluate("history.length")


def until(visit, wanted):
    """Wait until the address says this and nothing else."""
    visit.page.wait_for_function(
        "wanted => { const q = Object.fromEntries(new URLSearchParams(location.search));"
        " return JSON.stringify(Object.entries(q).sort())"
        " === JSON.stringify(Object.entries(wanted).sort()); }", arg=wanted)


def shown(visit, rows=PLACES):
    visit.page.wait_for_selector(rows)
    visit.page.wait_for_load_state("networkidle")  # half a second in which nothing was asked
    return visit.page.locator(rows).all_inner_texts()[:FEW]


def shows(visit, wanted, rows=PLACES):
    """Wait until these are the first rows."""
    visit.page.wait_for_function(
        "([rows, wanted]) => JSON.stringify([...document.querySelectorAll(rows)]"
        ".slice(0, wanted.length).map(row => row.innerText)) === JSON.stringify(wanted)",
        arg=[rows, wanted])


def turn(visit, grid):
    visit.page.click(f"#{grid} .ag-paging-button[aria-label='Next Page']")


def test_filter_order_and_page_are_shared_and_undone_one_by_one(visit):
    page = visit.page
    visit.open("/places")
    seen = [({}, shown(visit))]
    begun = steps(visit)

    def done(wanted):
        until(visit, wanted)
        seen.append((wanted, shown(visit)))

    page.click("#places-hazard")
    page.click("[role=option]:has-text('hot')")
    done({"hazard": "hot"})
    page.click("#places-clear")
    done({})
    page.click("#places-grid .ag-header-cell[col-id=expected_cost] .scale-header")
    done({"sort": "cost"})
    turn(visit, "places-grid")
    done({"sort": "cost", "page": "2"})
    assert steps(visit) == begun + 4
    assert seen[0][1] != seen[1][1] != seen[2][1] == seen[0][1] != seen[3][1] != seen[4][1]

    for wanted, rows in reversed(seen[:-1]):
        page.go_back()
        until(visit, wanted)
        shows(visit, rows)
    for wanted, rows in seen[1:]:
        page.go_forward()
        until(visit, wanted)
        shows(visit, rows)

    shared = page.url
    visit.open("/lives")
    page.goto(shared)
    shows(visit, seen[-1][1])
    assert page.url == shared
    assert "26 to 50 of 60" in page.inner_text("#places-grid .ag-paging-panel")
    visit.check()


def test_typing_is_one_step_back_and_a_link_to_the_plain_page_undoes_all(visit):
    page = visit.page
    visit.open("/places")
    every, begun = shown(visit), steps(visit)
    page.click("#places-text")
    page.keyboard.type("HD-1", delay=400)
    until(visit, {"text": "HD-1"})
    assert steps(visit) == begun + 1
    page.go_back()
    until(visit, {})
    shows(visit, every)
    assert page.input_value("#places-text") == ""
    page.fill("#places-text", "HD-2")
    until(visit, {"text": "HD-2"})
    page.click("nav a:text-is('Places')")
    until(visit, {})
    page.wait_for_function("() => document.querySelector('#places-text').value === ''")
    shows(visit, every)
    visit.check()


@pytest.mark.parametrize(("path", "grid", "column", "called"), [
    ("/spares", "spares-parts", "lead_time_days", "lead"),
    ("/lives/homogeniser%20discharge/C-304-OP1", "life-cell-hoses", "age_days", "life"),
    ("/data-health", "data-health-rows", "value", "cell")])
def test_every_large_table_keeps_order_and_page(visit, path, grid, column, called):
    page, rows = visit.page, f"#{grid} .ag-row .ag-cell:first-child"
    visit.open(path)
    shown(visit, rows)
    head = page.locator(f"#{grid} .ag-header-cell[col-id={column}]")
    head.click()
    until(visit, {"sort": called})
    head.focus()
    page.keyboard.press("Enter")
    until(visit, {"sort": "-" + called})
    falling = shown(visit, rows)
    if page.locator(f"#{grid} .ag-paging-button[aria-label='Next Page']:not(.ag-disabled)").count():
        turn(visit, grid)
        until(visit, {"sort": "-" + called, "page": "2"})
        page.go_back()
        until(visit, {"sort": "-" + called})
        shows(visit, falling, rows)
    page.reload()
    shows(visit, falling, rows)
    visit.check()


def test_a_choice_of_any_page_is_undone_by_back(visit):
    page = visit.page
    visit.open("/spares?state=enough")
    page.get_by_label("Demand over").first.click()
    page.click("[role=option]:has-text('3 months')")
    until(visit, {"state": "enough", "months": "3"})
    page.get_by_label("Every lead time").first.click()
    page.click("[role=option]:has-text('twice as long')")
    until(visit, {"state": "enough", "months": "3", "factor": "2"})
    for wanted, lead, months in (({"state": "enough", "months": "3"}, "as recorded", "3 months"),
                                 ({"state": "enough"}, "as recorded", "12 months")):
        page.go_back()
        until(visit, wanted)
        page.wait_for_function(
            "wanted => wanted.every(value => [...document.querySelectorAll('.filters input')]"
            ".some(box => box.value === value))", arg=[lead, months, "Enough in stock"])
        page.wait_for_function(f"() => document.querySelector('#spares-parts')?.innerText"
                               f".includes('Hoses in {months}')")
    visit.check()
