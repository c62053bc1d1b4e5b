"""What each page weighs on the wire and how soon it is seen, in a headless Chromium.

Run: ``python -m tests.bench.page_weight STORE [STORE]``. For each page and store, from an empty
browser (cold) and again in the same one (warm): requests, kilobytes as sent (compressed), and
milliseconds to the first contentful paint and until the page's own sentence stands there.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any
from urllib.parse import quote

from playwright.sync_api import sync_playwright

from dashboard.queries import edition
from tests.browser.conftest import CHROMIUM, FLAGS, served
from tests.dashboard.page_reader import Reader

PAINT = "() => performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? 0"
SEEN = "() => performance.now()"


def addresses(store: Path) -> list[str]:
    """Return one address of every page of a store."""
    reader = Reader(store)
    with reader.app.server.app_context():
        (first,) = edition.ask("select service_point from ranking order by rank limit 1")
        (kind,) = edition.ask("""select application_class, construction from fits
            where mechanism = 'all' order by n_failures desc, 1, 2 limit 1""")
    cell = "/".join(quote(name, safe="") for name in kind.values())
    return ["/", "/places", f"/places/{quote(first['service_point'], safe='')}", "/lives",
            f"/lives/{cell}", "/vibration", "/teardown", "/trials", "/spares", "/track-record",
            "/data-health", "/guide", "/start"]


def visit(context: Any, address: str) -> tuple[int, float, float, float]:
    """Open a page; return requests, kilobytes, first paint and sentence in milliseconds."""
    page = context.new_page()
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    sizes: list[float] = []
    session.on("Network.loadingFinished", lambda told: sizes.append(told["encodedDataLength"]))
    page.goto(address)
    page.wait_for_selector(".page h1")
    seen = page.evaluate(SEEN)
    page.wait_for_load_state("networkidle")
    painted = page.evaluate(PAINT)
    page.close()
    return sum(size > 0 for size in sizes), sum(sizes) / 1000, painted, seen


def main() -> None:
    """Print one line a page."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for store in map(Path, sys.argv[1:]):
            print(f"{store.parent.name}/{store.name}: requests, kB, first paint ms, sentence ms;"
                  " cold, then warm")
            paths = addresses(store)  # before serving: an application takes the callbacks along
            with served(store) as base:
                for path in paths:
                    context = browser.new_context(viewport={"width": 1440, "height": 900})
                    cold, warm = (visit(context, base + path) for _ in range(2))
                    context.close()
                    print(f"{path[:44]:44}" + "   ".join(
                        f"{n:4d} {size:7.0f} {painted:6.0f} {seen:6.0f}"
                        for n, size, painted, seen in (cold, warm)), flush=True)
        browser.close()


if __name__ == "__main__":
    main()
