"""A keeper settles on the page what a file leaves open: from where days count, names of months."""

import datetime as dt

from tests.browser.conftest import served, visit_to

MONTHS = "Oca Şub Mar Nis May Haz Tem Ağu Eyl Eki Kas Ara".split()
"""Short names of months in Turkish (Unicode CLDR 49), which the software does not know."""


def written(path, day_of, marks=";"):
    """Write a book of hoses whose days are written by `day_of`."""
    rows = [["Asset", "Duty", "Fitted", "Removed", "Reason", "Object", "Cost"]]
    for place in range(3):
        day = dt.date(2021, 1, 3) + dt.timedelta(days=9 * place)
        for number in range(4):
            out = day + dt.timedelta(days=90 + 40 * number)
            rows.append([f"P-{place + 1}", "steam wand", day_of(day), day_of(out), "leak",
                         "HOSE" if number else "gasket", "1.250"])
            day = out
    path.write_text("\n".join(marks.join(row) for row in rows), encoding="utf-8")


def looked_again(visit, text):
    visit.page.get_by_role("button", name="Look again").click()
    visit.page.wait_for_selector(f"text={text}")


def chosen(visit, label, option):
    visit.page.get_by_label(label, exact=True).first.click()
    visit.page.get_by_role("option", name=option).first.click()


def test_days_that_are_numbers_count_from_the_year_that_is_said(chromium, tmp_path):
    store, file = tmp_path / "store", tmp_path / "hose book.csv"
    store.mkdir()
    written(file, lambda day: str((day - dt.date(1904, 1, 1)).days))
    with served(store) as address:
        visit = visit_to(chromium, address)
        visit.open("/start")
        page = visit.page
        page.set_input_files("#start-upload input", str(file))
        page.wait_for_selector(".mapping")
        assert "Hoses going in: no row would be used, 12 refused" in visit.said()
        assert "Say above from where the days count." in visit.said()
        chosen(visit, "They count from", "1904: ")
        chosen(visit, "The “.” stands before", "thousands: 1.250 is 1,250")
        page.get_by_text("Rows of other things in this file").click()
        chosen(visit, "Only rows whose column", "Object")
        page.get_by_label("holds one of the words").fill("hose, bellows")
        looked_again(visit, "Hoses going in: 9 rows would be used, none refused, 3 left out")
        assert page.get_by_label("They count from").first.input_value().startswith("1904")
        page.get_by_text("What only the mapping file can say").click()
        assert page.get_by_text('sheet = "Changes"').is_visible()
        with page.expect_download() as taken:
            page.get_by_role("link", name="columns.toml").click()
        text = taken.value.path().read_text(encoding="utf-8")
        assert text == (store / "incoming" / "columns.toml").read_text(encoding="utf-8")
        for line in ("serial_days_from = 1904", 'decimal = ","', '"Object" = "(?i)hose|bellows"'):
            assert line in text
        visit.check()
        page.context.close()


def test_names_of_months_that_are_not_known_are_asked_for_on_a_phone(chromium, tmp_path):
    store, file = tmp_path / "store", tmp_path / "hoses.csv"
    store.mkdir()
    written(file, lambda day: f"{day.day} {MONTHS[day.month - 1]} {day.year}")
    with served(store) as address:
        visit = visit_to(chromium, address, viewport={"width": 390, "height": 844}, has_touch=True)
        visit.open("/start")
        page = visit.page
        page.set_input_files("#start-upload input", str(file))
        page.wait_for_selector(".mapping")
        chosen(visit, "One row of this file is", "one hose: where it sat")
        page.wait_for_selector("text=Went in (needed)")
        for label, column in (("Place (needed)", "Asset"), ("Went in (needed)", "Fitted"),
                              ("Came out (needed)", "Removed"), ("Why it came out", "Reason")):
            chosen(visit, label, column)
        looked_again(visit, "names of months that are not known")
        page.wait_for_load_state("networkidle")
        for number, name in enumerate(MONTHS, start=1):
            if page.get_by_label(f"“{name.lower()}” is", exact=True).count():
                chosen(visit, f"“{name.lower()}” is", dt.date(2000, number, 1).strftime("%B"))
        looked_again(visit, "Hoses coming out: 12 rows would be used, none refused")
        assert "Hoses going in: 12 rows would be used, none refused" in visit.said()
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        visit.check()
        page.context.close()
