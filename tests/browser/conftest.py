"""The real application over waitress on a free port, and a headless Chromium to open it."""

import os
import shutil
import threading
from contextlib import contextmanager

import pytest
import waitress

from dashboard.app import create_app
from tests.dashboard.edition_maker import make_edition

FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]
CHROMIUM = os.environ.get("BRAIDLIFE_CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"
# A figure is asked for, fetched and drawn after the words: only then has Plotly put its surface in.
DRAWN = """() => [...document.querySelectorAll('.dash-graph')].every(graph =>
    !graph.classList.contains('dash-graph--pending') && graph.querySelector('.main-svg'))"""
WAIT = 45_000
"""Milliseconds a page may take on a busy machine before a test gives up."""


@contextmanager
def served(store):
    """Yield the address of the pages of a store while they are served."""
    server = waitress.create_server(create_app(store).server, host="127.0.0.1", port=0, threads=6)
    worker = threading.Thread(target=server.run, daemon=True)
    worker.start()
    try:
        yield f"http://127.0.0.1:{server.effective_port}"
    finally:
        server.close()
        worker.join(timeout=10)


@pytest.fixture(scope="session")
def chromium():
    """Headless Chromium; without one the test is skipped, saying so."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    if not os.access(CHROMIUM, os.X_OK):
        pytest.skip("no Chromium: install one, or name it in BRAIDLIFE_CHROMIUM")
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def invented(tmp_path_factory):
    """Address of the pages of a small invented edition."""
    store = tmp_path_factory.mktemp("invented")
    make_edition(store, "full")
    with served(store) as address:
        yield address


@pytest.fixture(scope="session")
def hostile(tmp_path_factory):
    """Address of the pages of an edition whose names hold markup, SQL and paths."""
    store = tmp_path_factory.mktemp("hostile")
    make_edition(store, "hostile")
    with served(store) as address:
        yield address


@pytest.fixture(scope="session")
def demo(demo_store):
    """Address of the pages of the demo fleet."""
    with served(demo_store) as address:
        yield address


class Visit:
    """A browser page that notes every fault and every request to another machine."""

    def __init__(self, page, address):
        self.page, self.address, self.faults = page, address, []
        page.set_default_timeout(WAIT)
        page.on("pageerror", lambda fault: self.faults.append(str(fault)))
        page.on("console", self._console)
        page.on("request", self._request)
        page.on("response", self._response)

    def _console(self, message):
        # Software drawing of figures warns of stalls; only errors count.
        if message.type == "error":
            self.faults.append(message.text)

    def _request(self, request):
        if not request.url.startswith((self.address, "data:", "blob:")):
            self.faults.append(f"asked another machine: {request.url}")

    def _response(self, response):
        if response.status >= 400:
            self.faults.append(f"{response.status} for {response.url}")

    def open(self, path):
        """Go to an address of the site and wait until its sentence stands there."""
        self.page.goto(self.address + path)
        self.settled()

    def settled(self):
        """Wait until a page stands there, nothing is on its way and every figure is drawn."""
        self.page.wait_for_selector(".page h1")
        self.page.wait_for_load_state("networkidle")
        self.page.wait_for_function(DRAWN)

    def said(self):
        """Return all words on the screen."""
        return self.page.inner_text("body")

    def check(self):
        """Fail on any fault noted so far, and on a page that shows its inside."""
        assert self.faults == []
        text = self.said()
        for inside in ("Traceback", "Error loading", "NaN", "undefined", "[object Object]",
                       "This could not be shown"):
            assert inside not in text
        assert not self.page.get_by_text("None", exact=True).count()


def visit_to(chromium, address, **options):
    context = chromium.new_context(**({"viewport": {"width": 1440, "height": 900}} | options))
    return Visit(context.new_page(), address)


@pytest.fixture
def visit(chromium, invented):
    """Visit of the small invented edition at a desk."""
    made = visit_to(chromium, invented)
    yield made
    made.page.context.close()


@pytest.fixture
def phone(chromium, invented):
    """Visit of the small invented edition on a phone."""
    made = visit_to(chromium, invented, viewport={"width": 390, "height": 844}, has_touch=True)
    yield made
    made.page.context.close()


@pytest.fixture
def demo_visit(chromium, demo):
    """Visit of the demo fleet at a desk."""
    made = visit_to(chromium, demo)
    yield made
    made.page.context.close()


@pytest.fixture
def hostile_visit(chromium, hostile):
    """Visit of the edition with hostile names."""
    made = visit_to(chromium, hostile)
    yield made
    made.page.context.close()
