"""A newcomer with a spreadsheet of another layout gets from an empty store to a ranking."""

import datetime as dt

import openpyxl

from tests.browser.conftest import served, visit_to
from tests.faults.small import new_store

COLUMNS = ("Asset", "Duty", "Kind of hose", "Fitted", "Taken out", "Why", "Spent")


def spreadsheet(path):
    """Write a small book of hoses: a title above the header, own names, own words."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Hoses of the works, kept by hand"])
    sheet.append(COLUMNS)
    for place in range(6):
        day = dt.date(2022, 1, 3) + dt.timedelta(days=9 * place)
        for number in range(7):
            out = day + dt.timedelta(days=(40 if place == 0 else 110) + 17 * ((place + number) % 4))
            is_last = number == 6
            sheet.append([f"P-{place + 1}", "steam wand", "close pitch" if number % 2 else "open",
                          day, None if is_last else out,
                          None if is_last else "exchange" if number % 3 == 2 else "Leak",
                          None if is_last else 410.5])
            day = out
    book.save(path)


def test_from_an_empty_store_to_a_ranking(chromium, tmp_path):
    store, file = new_store(tmp_path / "store"), tmp_path / "hose book.xlsx"
    spreadsheet(file)
    with served(store) as address:
        visit = visit_to(chromium, address)
        visit.open("/")
        page = visit.page
        assert "this store is still empty" in visit.said()
        assert page.get_by_role("button", name="Build the invented fleet").is_visible()

        page.set_input_files("#start-upload input", str(file))
        page.wait_for_selector(".mapping")
        said = visit.said()
        assert "6 rows would be used" in said  # places, found in the rows of the hoses
        assert "24 rows would be used, 12 refused" in said  # an unknown word, said which
        assert "“exchange” means" in said
        assert "Columns of your file that are not used: “Spent”." in said

        page.get_by_label("Why it came out").first.click()  # a choice that would tell nothing
        page.get_by_role("option", name="not in this file: unknown").click()
        page.get_by_role("button", name="Look again").click()
        page.wait_for_selector("text=No column says why hoses came out.")
        page.get_by_label("Why it came out").first.click()
        page.get_by_role("option", name="Why · exchange").or_(
            page.get_by_role("option", name="Why · Leak")).first.click()
        page.get_by_role("button", name="Look again").click()
        page.wait_for_selector("text=“exchange” means")

        page.get_by_label("“exchange” means").click()
        page.get_by_role("option", name="planned change").click()
        page.get_by_label("Cost of the part").click()
        page.get_by_role("option", name="Spent").click()
        page.get_by_role("button", name="Look again").click()
        page.wait_for_selector("text=36 rows would be used")
        page.get_by_label("Amounts are in").fill("EUR")
        page.get_by_role("button", name="Look again").click()
        page.wait_for_selector("[aria-busy=true]", state="detached")
        page.wait_for_load_state("networkidle")

        page.get_by_role("button", name="Load and make the ranking").click()
        page.wait_for_selector("progress")
        page.wait_for_selector("text=Places to act on", timeout=120_000)
        visit.settled()
        ranked = page.inner_text("table.ten tbody")
        assert all(f"P-{number}" in ranked for number in range(1, 7))
        assert "€" in visit.said()
        assert "Data to" in visit.said()
        visit.check()
        page.context.close()
