"""Every page of the real application opens in a browser, without a fault, and can be used."""

import re

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.slow]

CELL = "/lives/homogeniser%20discharge/C-304-OP1"
PLACE = "/places/HD-1%20discharge"
PAGES = [
    ("/", None), ("/places", "Places"), ("/lives", "Lives"), ("/trials", "Trials"),
    ("/spares", "Spares"), ("/data-health", "Data health"), (CELL, None),
    (CELL + "?with=vacuum%2520line/C-304-OP1", None), (CELL + "?clock=run_hours", None),
    ("/lives?clock=cycles", "Lives"), (PLACE, "Places"),
    ("/spares?part=C-316-CP1-40", None), ("/track-record", "Track record"),
    ("/track-record?months=12&of=site%3ANorth", "Track record"),
]


@pytest.mark.parametrize(("path", "name"), PAGES)
def test_a_page_opens_without_a_fault_and_asks_no_other_machine(visit, path, name):
    visit.open(path)
    visit.check()
    if name:
        assert visit.page.inner_text("nav a.here") == name
    assert visit.page.locator("h1").count() == 1


@pytest.mark.parametrize("path", [path for path, _ in PAGES])
def test_a_page_fits_a_phone(phone, path):
    phone.open(path)
    width = phone.page.evaluate("document.documentElement.scrollWidth")
    assert width <= 390
    phone.check()


@pytest.mark.parametrize("path", ["/", "/places", "/lives", CELL, "/trials", "/spares",
                                  "/track-record", "/data-health"])
def test_hostile_names_stay_text(hostile_visit, path):
    hostile_visit.page.on("dialog", lambda dialog: hostile_visit.faults.append(dialog.message))
    hostile_visit.open(path)
    hostile_visit.check()
    assert hostile_visit.page.evaluate(
        "[...document.querySelectorAll('main script, main b b, main a[href^=javascript]')].length"
    ) == 0


def test_the_navigation_leads_through_all_pages(visit):
    visit.open("/")
    links = visit.page.locator("nav a").all_inner_texts()
    assert {"This month", "Places", "Lives", "Trials", "Spares", "Track record",
            "Data health"} <= set(links)
    for name in links:
        visit.page.click(f"nav a:text-is('{name}')")
        visit.page.wait_for_function(
            "name => document.querySelector('nav a.here')?.innerText === name", arg=name)
        visit.settled()
    visit.check()


def test_places_are_filtered_and_the_address_brings_the_filter_back(visit):
    visit.open("/places")
    visit.page.wait_for_selector("#places-grid .ag-row a.place")
    visit.page.fill("#places-text", "HD-1")
    visit.page.wait_for_function("() => location.search.includes('HD-1')")
    rows = visit.page.locator("#places-grid .ag-row a.place")
    only_wanted = (
        "() => { const found = [...document.querySelectorAll('#places-grid .ag-row a.place')];"
        " return found.length > 0 && found.every(a => a.innerText.includes('HD-1')); }")
    visit.page.wait_for_function(only_wanted)
    shown = rows.all_inner_texts()
    visit.page.reload()
    visit.settled()
    visit.page.wait_for_function(only_wanted)
    assert visit.page.input_value("#places-text") == "HD-1"
    assert rows.all_inner_texts() == shown
    visit.check()


def test_a_place_opens_from_the_table(visit):
    visit.open("/places")
    first = visit.page.locator("#places-grid .ag-row a.place").first
    name = first.inner_text()
    first.click()
    visit.page.wait_for_url(re.compile("/places/"))
    visit.settled()
    visit.page.wait_for_function(
        "name => document.querySelector('h1')?.innerText.includes(name)", arg=name)
    visit.check()


def test_a_kind_of_hose_opens_from_the_matrix_and_back_leads_back(visit):
    visit.open("/lives")
    visit.page.click(".matrix-cell >> nth=2")
    visit.page.wait_for_url(re.compile("/lives/.+/.+"))
    visit.settled()
    visit.page.wait_for_selector(".js-plotly-plot .scatterlayer")
    visit.page.wait_for_selector("#life-cell-hoses .ag-row a.place")
    visit.page.go_back()
    visit.page.wait_for_selector("table.matrix")
    visit.check()


def test_measure_and_mechanism_are_kept_in_the_address(visit):
    visit.open("/lives")
    visit.page.click(".choice a:text-is('characteristic life')")
    visit.page.wait_for_url(re.compile("measure=characteristic_life"))
    visit.settled()  # the list of mechanisms is drawn anew with the page
    visit.page.click("#lives-mechanism")
    visit.page.click("[role=option]:has-text('braid wear')")
    visit.page.wait_for_url(re.compile("mechanism=braid_wear"))
    assert "measure=characteristic_life" in visit.page.url
    visit.page.reload()
    visit.settled()
    assert visit.page.input_value("#lives-mechanism") == "braid wear"
    assert "Characteristic life by application class" in visit.said()
    visit.check()


def test_lives_are_read_by_another_clock_and_back_undoes_it(visit):
    visit.open("/lives")
    visit.page.click(".choice a:text-is('run hours')")
    visit.page.wait_for_url(re.compile("clock=run_hours"))
    visit.page.wait_for_function(
        "() => document.querySelector('h1')?.innerText.includes('run hours')")
    visit.page.click(".matrix-cell >> nth=0")
    visit.page.wait_for_url(re.compile("/lives/.+/.+clock=run_hours"))
    visit.settled()
    visit.page.wait_for_selector(".js-plotly-plot .scatterlayer")
    assert "In calendar days only" in visit.said()
    visit.page.go_back()
    visit.page.wait_for_selector("table.matrix")
    visit.page.go_back()
    visit.page.wait_for_function(
        "() => document.querySelector('h1')?.innerText.includes('days')")
    assert "clock" not in visit.page.url
    visit.check()


def test_a_second_kind_is_chosen_and_compared(visit):
    visit.open(CELL)
    visit.page.fill("#life-cell-with", "nitrogen")
    visit.page.click("[role=option]:has-text('C-304-OP1 on nitrogen transfer')")
    visit.page.wait_for_url(re.compile("with="))
    visit.page.wait_for_function(
        "() => document.body.innerText.includes('on nitrogen transfer: B10')")
    visit.check()


def test_a_comparison_says_how_it_is_known(visit):
    visit.open(CELL + "?with=vacuum%2520line/C-304-OP1")
    visit.page.wait_for_selector("figure.graph .js-plotly-plot .scatterlayer")
    block = visit.page.locator("section:has(#life-cell-with)")
    assert "Log-rank test over all ages" in block.inner_text()
    assert "The shape of C-304-OP1 on vacuum line is flatter" in block.inner_text()
    block.locator(".how > summary").click()
    assert block.locator(".how-panel").is_visible()
    assert block.locator("a[href='/download/life_comparisons.csv']").count() == 1
    visit.check()


def test_a_place_stands_among_its_peers(visit):
    visit.open(PLACE)
    strip = visit.page.locator(".strip")
    assert "of 9 like places" in strip.inner_text()
    assert strip.locator(".peer").count() == 9
    visit.page.wait_for_selector("figure.graph .js-plotly-plot .scatterlayer")
    visit.check()


def test_the_hoses_of_a_kind_are_exported(visit):
    visit.open(CELL)
    with visit.page.expect_download() as waiting:
        visit.page.locator("section:has(#life-cell-hoses) .downloads a:text-is('CSV')").click()
    lines = waiting.value.path().read_text(encoding="utf-8-sig").strip().splitlines()
    assert waiting.value.suggested_filename.endswith(".csv")
    assert len(lines) == 26
    assert lines[0].startswith("hose_id,")


def test_parts_are_filtered_and_one_opens_with_its_places(visit):
    visit.open("/spares")
    visit.page.wait_for_selector("#spares-parts .ag-row a.place")
    text = visit.page.get_by_label("Part or construction")
    text.fill("C-304")
    visit.page.wait_for_function("() => location.search.includes('text=C-304')")
    visit.page.wait_for_function(
        "() => [...document.querySelectorAll('#spares-parts .ag-row a.place')].length === 4")
    visit.page.locator("#spares-parts a.place").first.click()
    visit.page.wait_for_url(re.compile("part="))
    visit.page.wait_for_function("() => document.body.innerText.includes('demand against stock')")
    assert "text=C-304" in visit.page.url
    visit.check()


def test_another_span_redraws_the_demand(visit):
    visit.open("/spares")
    visit.page.wait_for_selector("#spares-parts .ag-row .interval")
    visit.page.get_by_label("Demand over").first.click()
    visit.page.click("[role=option]:has-text('3 months')")
    visit.page.wait_for_function(
        "() => document.querySelector('#spares-parts').innerText.includes('Hoses in 3 months')")
    visit.page.wait_for_selector("#spares-parts .ag-row .interval")
    assert "months=3" in visit.page.url
    visit.check()


def test_refused_rows_are_filtered_by_their_reason(visit):
    visit.open("/data-health")
    visit.page.click("table.reasons a")
    visit.page.wait_for_url(re.compile("why="))
    visit.settled()
    visit.page.wait_for_selector("#data-health-rows .ag-cell:has-text('not a date like')")
    visit.check()


def test_dark_is_kept_when_the_page_is_loaded_again(visit):
    visit.open(CELL)
    visit.page.wait_for_selector(".js-plotly-plot .scatterlayer")
    light = visit.page.evaluate("getComputedStyle(document.body).backgroundColor")
    visit.page.click("#shell-scheme-switch")
    visit.page.wait_for_function(
        "light => getComputedStyle(document.body).backgroundColor !== light", arg=light)
    visit.page.wait_for_function(
        "() => [...document.querySelectorAll('.js-plotly-plot .xtick text')]"
        ".every(t => t.style.fill !== 'rgb(91, 102, 109)')")
    dark = visit.page.evaluate("getComputedStyle(document.body).backgroundColor")
    visit.page.reload()
    visit.settled()
    assert visit.page.evaluate("getComputedStyle(document.body).backgroundColor") == dark
    visit.check()


@pytest.mark.parametrize("path", ["/nothing", "/places/nowhere", "/lives/a/b",
                                  "/lives?measure=x&mechanism=y", "/spares?part=z&state=q",
                                  "/data-health?why=%3Cscript%3E"])
def test_a_broken_address_is_answered_with_words(visit, path):
    answer = visit.page.goto(visit.address + path)
    visit.page.wait_for_selector("main h1, main h2")
    if "?" not in path:  # an address where nothing is says so to machines, too
        assert answer.status == 404
        said = f"404 for {visit.address}{path}"
        visit.faults = [f for f in visit.faults if f != said and "404 (NOT FOUND)" not in f]
    visit.check()


def test_the_keyboard_reaches_a_cell_of_the_matrix(visit):
    visit.open("/lives")
    for _ in range(60):
        visit.page.keyboard.press("Tab")
        if visit.page.evaluate("document.activeElement.className.includes('matrix-cell')"):
            break
    assert visit.page.evaluate("document.activeElement.className.includes('matrix-cell')")
    visit.page.keyboard.press("Enter")
    visit.page.wait_for_url(re.compile("/lives/.+/.+"))
    visit.check()
