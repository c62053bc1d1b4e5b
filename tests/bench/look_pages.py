"""Pictures of all pages in four states, two schemes and three sizes, and what a script can fault.

Run: ``python -m tests.bench.look_pages STORE OUT [--state full] [--size 390x844] [--no-pictures]``.
States: ``full`` is the edition of STORE, ``empty`` has no place, ``one`` a single hose, ``hostile``
names that hold markup, SQL and paths. Prints text that is cut off, pages wider than the window,
things that moved after they were drawn (over 0.1 of the window) and faults of the browser's
console; look at the pictures for the rest.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

from playwright.sync_api import sync_playwright

from dashboard.queries import edition
from etl import run
from tests.browser.conftest import CHROMIUM, FLAGS, served
from tests.dashboard.edition_maker import make_edition
from tests.dashboard.page_reader import Reader

SIZES = ("1440x900", "1024x768", "390x844")
PLAIN = ("/", "/places", "/lives", "/vibration", "/teardown", "/trials", "/spares", "/track-record",
         "/data-health", "/data-health/check-file", "/guide", "/start", "/nowhere", "/physics")
ONE_HOSE = {
    "service_points": "service_point,application_class,pressure_bar\nP-1,steam wand,7\n",
    "installations": "installed_on,service_point,hose_id\n2024-01-05,P-1,H-1\n",
    "replacements": "removed_on,service_point,reason,hose_id\n2025-02-01,P-1,failed,H-1\n",
}
SHIFT = """() => { window.moved = 0;
    new PerformanceObserver(list => list.getEntries().forEach(entry => {
        if (!entry.hadRecentInput) { window.moved += entry.value; } }))
    .observe({type: 'layout-shift', buffered: true}); }"""
STILL = """() => document.querySelectorAll('.ag-header, .ag-paging-panel').forEach(
    item => { item.style.position = 'static'; })"""
"""A picture of a whole page has no window whose edge they could keep to."""
CUT = """() => {
    const out = [], wide = document.documentElement.scrollWidth;
    if (wide > innerWidth + 1) { out.push('page is ' + wide + ' wide'); }
    for (const item of document.querySelectorAll('main *, header *')) {
        const unseen = 'svg, .spoken, .mantine-Select-root, .ag-aria-description-container';
        if (item.closest(unseen) || !item.clientWidth) { continue; }
        const text = (item.innerText || '').trim(), style = getComputedStyle(item);
        if (!text) { continue; }
        const hides = ['hidden', 'clip'];
        if (hides.includes(style.overflowX) && item.scrollWidth > item.clientWidth + 2
                && style.textOverflow !== 'ellipsis') {
            out.push('cut off: ' + text.slice(0, 60)); }
        if (hides.includes(style.overflowY) && style.webkitLineClamp === 'none'
                && item.matches('.ag-cell, .cell, td, p, span')
                && item.scrollHeight > item.clientHeight + 3) {
            out.push('cut below: ' + text.slice(0, 60)); }
        const box = item.getBoundingClientRect();
        if (!item.children.length && box.right > innerWidth + 2
                && !item.closest('.matrix-room, .ag-root-wrapper, .scroll-room')) {
            out.push('outside: ' + text.slice(0, 60)); }
    }
    return [...new Set(out)].slice(0, 8); }"""


def stores(full: Path, work: Path) -> dict[str, Path]:
    """Return a store for each state."""
    out = {"full": full}
    for state in ("empty", "hostile"):
        out[state] = work / state
        make_edition(out[state], state)
    logs, out["one"] = work / "logs", work / "one"
    logs.mkdir()
    for log, text in ONE_HOSE.items():
        (logs / f"{log}.csv").write_text(text, encoding="utf-8")
    run.load(logs, out["one"])
    return out


def addresses(store: Path) -> list[str]:
    """Return the plain pages, and one of each kind that the edition has."""
    out = list(PLAIN)
    reader = Reader(store)
    with reader.app.server.app_context():
        for place in edition.ask("select service_point from ranking order by rank limit 1"):
            out.append("/places/" + quote(place["service_point"], safe=""))
        for kind in edition.ask("""select application_class, construction from fits
                where mechanism = 'all' order by n_failures desc, 1, 2 limit 1"""):
            out.append("/lives/" + "/".join(quote(name, safe="") for name in kind.values()))
        for trial in edition.ask("select distinct trial from trial_states order by trial limit 1"):
            out.append("/trials/" + quote(trial["trial"], safe=""))
        for plan in edition.ask("""select service_point from trial_candidates
                order by n_pairs is null, rank limit 1"""):
            out.append("/trials/" + quote(plan["service_point"], safe=""))
        for hose in edition.ask("""select hose_id, service_point, removed_on from lives
                where kind = 'failed' and hose_id is not null and removed_on is not null
                order by removed_on desc, life_id limit 1"""):
            query = {"place": hose["service_point"], "removed": hose["removed_on"].isoformat()}
            out.append(f"/teardown/{quote(hose['hose_id'], safe='')}?{urlencode(query)}")
    return out


def look(page: Any, address: str) -> list[str]:
    """Open a page and return what a script can fault."""
    faults: list[str] = []

    def note(message: Any) -> None:
        if message.type == "error" and "404" not in message.text:
            faults.append(message.text[:100])

    page.on("console", note)
    page.goto(address)
    page.evaluate(SHIFT)
    page.wait_for_selector(".page h1")
    page.wait_for_load_state("networkidle")
    for table in page.locator(".grid").all():  # its rows are asked for when it is drawn
        if table.is_visible():
            table.scroll_into_view_if_needed()  # a whole page's picture leaves it out else
            table.locator(".ag-row, .ag-overlay-no-rows-center").first.wait_for()
            page.wait_for_timeout(100)
    page.evaluate("scrollTo(0, 0)")
    page.wait_for_timeout(400)
    page.remove_listener("console", note)
    moved = page.evaluate("() => window.moved")
    return [*faults, *page.evaluate(CUT), *([f"moved by {moved:.2f}"] if moved > 0.1 else [])]


def main() -> None:
    """Take the pictures and print the faults."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("store", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--state", action="append")
    parser.add_argument("--size", action="append")
    parser.add_argument("--scheme", action="append")
    parser.add_argument("--no-pictures", action="store_true")
    given = parser.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as work, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for state, store in stores(given.store, Path(work)).items():
            if given.state and state not in given.state:
                continue
            paths = addresses(store)  # before serving: an application takes the callbacks along
            with served(store) as base:
                for size in given.size or SIZES:
                    for scheme in given.scheme or ("light", "dark"):
                        _look_at(browser, base, paths, state, size, scheme, given)
        browser.close()


def _look_at(browser: Any, base: str, paths: list[str], state: str, size: str, scheme: str,
             given: Any) -> None:
    """Look at all pages of one store in one size and scheme."""
    width, height = map(int, size.split("x"))
    context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme)
    page = context.new_page()
    for number, path in enumerate(paths):
        for fault in look(page, base + path):
            print(f"{state:8}{size:9} {scheme:6}{path[:40]:40} {fault}", flush=True)
        if not given.no_pictures:
            page.evaluate(STILL)
            page.screenshot(path=given.out / f"{state}-{size}-{scheme}-{number:02}.png",
                            full_page=True)
    context.close()


if __name__ == "__main__":
    main()
