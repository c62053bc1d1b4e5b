"""Entering in a browser: a whole teardown on a phone, an inspection, a wrong row, a file."""

import pytest
from PIL import Image

from etl import run
from etl.load.entered import read_journal
from tests.browser.conftest import served, visit_to
from tests.faults.small import FIRST, new_store, write_logs

pytestmark = [pytest.mark.browser, pytest.mark.slow]
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True}
BUILD_MS = 120_000
"""Milliseconds a small edition may take on a busy machine."""
TURNED = """turn => ![undefined, turn].includes(
    document.querySelector('.screen')?.getAttribute('data-turn'))"""
"""The next screen stands there. A function: the pages' policy lets no text be evaluated, so that
a bare expression is read once and fails where it does not hold at once."""


@pytest.fixture
def store(tmp_path):
    made = new_store(tmp_path / "store")
    nobody_said = FIRST["replacements.csv"].replace("008,failed,corrosion", "008,failed,")
    run.load(write_logs(tmp_path / "logs", FIRST | {"replacements.csv": nobody_said}), made)
    return made


@pytest.fixture
def address(store):
    with served(store) as at:
        yield at


def visiting(chromium, address, **options):
    visit = visit_to(chromium, address, **options)
    visit.page.on("dialog", lambda dialog: visit.faults.append(dialog.message))
    return visit


def tap(visit, button):
    """Press a button of the record and wait until the next screen stands there."""
    page = visit.page
    before = page.get_attribute(".screen", "data-turn")
    page.click(button)
    page.wait_for_function(TURNED, arg=before)


def answer(visit, state):
    """Answer the question on the screen; returns it."""
    question = visit.page.inner_text(".question")
    tap(visit, f"[data-send=answer][data-value='{state}']")
    return question


def fits(visit):
    """Check that nothing is wider than the phone and that what is pressed is large."""
    page = visit.page
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    heights = page.eval_on_selector_all(
        ".answers .tall, .screen > .tall, .back-next .tall",
        "all => all.map(one => one.getBoundingClientRect().height)")
    assert heights
    assert min(heights) >= 56
    answers = page.eval_on_selector_all(
        ".answers .tall", "all => all.map(one => one.getBoundingClientRect().height)")
    assert min(answers, default=72) >= 72


def test_a_whole_teardown_on_a_phone_is_in_the_next_edition(chromium, address, store, tmp_path):
    visit = visiting(chromium, address, **PHONE)
    page = visit.page
    visit.open("/teardown")
    page.click("section:has(h2:text-is('Not taken apart yet')) li a:text-is('008')")
    page.wait_for_selector("[data-send=begin]")
    assert "prove zero energy" in page.inner_text(".screen")
    fits(visit)
    page.click("[data-send=begin]")
    page.wait_for_selector("#record-said:has-text('Give your name')")
    page.get_by_label("Your name").fill("Ann Example")
    tap(visit, "[data-send=begin]")
    page.click("[data-send=safe]")
    page.wait_for_selector("#record-said:has-text('Do not go on before it is')")
    for box in page.query_selector_all(".safe input[type=checkbox]"):
        box.check()
    page.get_by_label("Number of the permit").fill("PTW 7")
    fits(visit)
    tap(visit, "[data-send=safe]")
    assert "Mark the top" in page.inner_text(".screen")
    tap(visit, ".screen > .main")
    Image.effect_noise((2600, 1900), 60).convert("RGB").save(tmp_path / "big.jpg", quality=95)
    page.set_input_files("input[type=file]", tmp_path / "big.jpg")
    page.wait_for_selector(".photographs img")
    page.wait_for_function(
        "() => document.querySelector('.photographs img')?.naturalWidth === 2000")
    tap(visit, ".screen > .main")
    assert "Measure and look in place" in page.inner_text(".screen")
    tap(visit, ".screen > .main")
    asked = [answer(visit, state) for state in ("absent", "not checked")]
    assert len(set(asked)) == 2
    fits(visit)

    visit.open(page.url.removeprefix(address))  # as if the phone had been put away
    assert "It goes on where it stopped" in page.inner_text("h1")
    third = page.inner_text(".question")
    assert third not in asked
    answer(visit, "present")
    assert "suspected" in page.inner_text("#record-side")
    page.click("section:has(h2:text-is('Look at next')) [data-send=go] >> nth=0")
    page.wait_for_function("was => ![undefined, was].includes("
                           "document.querySelector('.question')?.innerText)",
                           arg=page.inner_text(".question") if page.locator(".question").count()
                           else "")
    answer(visit, "absent")
    page.click("summary:text-is('All steps')")
    tap(visit, "nav [data-send=go][data-about='braid off']")
    assert "sharp and under tension" in page.inner_text(".screen")
    tap(visit, ".screen > .main")
    while "45 degrees" not in page.inner_text(".question"):
        answer(visit, "absent")
    answer(visit, "present")
    page.click("summary:text-is('All steps')")
    tap(visit, "nav [data-send=go][data-about='conclude']")
    summary = page.inner_text(".screen")
    assert "slanting or spiral crack" in summary
    page.click("[data-send=conclude]")
    page.wait_for_selector("#record-said:has-text('Look it over first')")
    page.get_by_role("textbox", name="What you conclude").click()
    page.get_by_role("option", name="torsion fatigue").click()
    page.get_by_label("I have looked it over").check()
    fits(visit)
    tap(visit, "[data-send=conclude]")
    page.wait_for_selector("#entry-progress:has-text('Everything entered is in edition 2')",
                           timeout=BUILD_MS)
    visit.open("/teardown")
    assert "1 hose taken apart" in visit.said()
    page.click("table.teardowns a:text-is('008')")
    page.wait_for_selector("h2:text-is('What the findings say')")
    assert "people concluded: torsion fatigue" in visit.said()
    assert "slanting or spiral crack" in visit.said()
    rows = [row for entry in read_journal(store, "teardowns").entries for row in entry.rows]
    findings = [row["finding"] for row in rows]
    assert len(findings) == len(set(findings)), "one press made one row"
    assert {row["examiner"] for row in rows} == {"Ann Example"}
    visit.check()
    page.context.close()


def test_two_taps_on_one_answer_save_it_once(chromium, address, store):
    visit = visiting(chromium, address, **PHONE)
    page = visit.page
    visit.open("/teardown/008")
    page.get_by_label("Your name").fill("Ann")
    tap(visit, "[data-send=begin]")
    for box in page.query_selector_all(".safe input[type=checkbox]"):
        box.check()
    tap(visit, "[data-send=safe]")
    page.click("summary:text-is('All steps')")
    tap(visit, "nav [data-send=go][data-about='records']")
    tap(visit, ".screen > .main")
    before = page.get_attribute(".screen", "data-turn")
    page.evaluate("""() => { const one = document.querySelector('.answers .tall');
                             one.click(); one.click();
                             document.querySelector('[data-sends-to]').removeAttribute('aria-busy');
                             one.click(); }""")
    page.wait_for_function(TURNED, arg=before)
    page.wait_for_load_state("networkidle")
    assert [len(entry.rows) for entry in read_journal(store, "teardowns").entries] == [1, 1]
    visit.check()
    page.context.close()


def test_an_inspection_and_a_corrected_row_come_back_on_the_page_of_the_place(
        chromium, address, store):
    visit = visiting(chromium, address)
    page = visit.page
    visit.open("/places/A-1")
    page.get_by_label("Your name").fill("Bob")
    page.click("summary:text-is('An inspection')")
    page.click("[data-send=inspection]")
    page.wait_for_selector("#enter-said:has-text('condition is empty')")
    page.get_by_role("textbox", name="Condition found").click()
    page.get_by_role("option", name="worn").click()
    page.get_by_label("Note").fill("<b>rubs</b> on the frame")
    page.click("[data-send=inspection]")
    page.wait_for_selector("#enter-said:has-text('The inspection is saved')")
    page.click("summary:text-is('A row is wrong')")
    page.locator("#enter-which").click()
    page.get_by_role("option", name="replacements, 2021-02-01").click()
    page.wait_for_selector("[data-send=correct]")
    page.click("[data-send=takeback]")  # the first press only asks
    page.wait_for_selector("[data-send=takeback]:has-text('Press again to take it back')")
    page.get_by_label("mechanism").fill("torsion_fatigue")
    page.click("[data-send=correct]")
    page.wait_for_selector("#enter-said:has-text('The right values are saved')")
    (inspection,) = read_journal(store, "inspections").entries
    (correction,) = read_journal(store, "replacements").entries
    assert (inspection.who, correction.who) == ("Bob", "Bob")
    assert correction.rows[0]["mechanism"] == "torsion_fatigue"
    assert correction.rows[0]["work_order"] == "two\nlines"
    page.wait_for_selector("#entry-progress:has-text('Everything entered is in edition')",
                           timeout=BUILD_MS)
    visit.open("/places/A-1")
    text = visit.said()
    assert "torsion fatigue" in text
    assert "<b>rubs</b> on the frame" in text
    visit.check()
    page.context.close()


def test_a_file_is_checked_before_it_is_loaded(chromium, address, tmp_path):
    visit = visiting(chromium, address)
    visit.open("/data-health")
    visit.page.click("a:text-is('check a file')")
    visit.page.wait_for_selector("#check-upload")
    file = tmp_path / "replacements_north.csv"
    file.write_text("Out;Place;Why\n31.10.2026;A-1;failed\n01.11.2026;Z-9;<script>alert(1)</script>"
                    "\n", encoding="utf-8")
    visit.page.set_input_files("#check-upload input[type=file]", file)
    visit.page.wait_for_selector("h2:text-is('What would be refused')", timeout=BUILD_MS)
    text = visit.said()
    for part in ("replacements_north.csv", "Proposed mapping", "removed_on", "Z-9"):
        assert part in text
    with visit.page.expect_download() as download:
        visit.page.click("a:text-is('columns.toml')")
    assert "[[file]]" in download.value.path().read_text(encoding="utf-8")
    visit.check()
    visit.page.context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_screen_of_entering_breaks_a_rule_of_accessibility(chromium, address, scheme):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright",
                              reason="axe is not installed").Axe()
    visit = visiting(chromium, address, **PHONE, color_scheme=scheme)
    page, broken = visit.page, []

    def look(name):
        result = axe.run(page).response
        assert len(result["passes"]) > 20  # the checker did look
        broken.extend((name, fault["id"], fault["nodes"][0]["html"][:120])
                      for fault in result["violations"])

    visit.open("/teardown/008")
    look("begin")
    page.get_by_label("Your name").fill("Ann")
    tap(visit, "[data-send=begin]")
    look("make safe")
    for box in page.query_selector_all(".safe input[type=checkbox]"):
        box.check()
    tap(visit, "[data-send=safe]")
    tap(visit, ".screen > .main")
    look("photograph")
    tap(visit, ".screen > .main")
    tap(visit, ".screen > .main")
    answer(visit, "present")
    page.click("summary:text-is('All steps')")
    look("question")
    tap(visit, "nav [data-send=go][data-about='conclude']")
    look("conclude")
    visit.open("/places/A-1")
    page.click("summary:text-is('An inspection')")
    page.click("summary:text-is('A row is wrong')")
    look("place")
    visit.open("/data-health/check-file")
    page.wait_for_selector("input[type=file][aria-label]")
    look("check a file")
    assert broken == []
    page.context.close()
