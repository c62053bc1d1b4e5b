"""The web application: one function that builds it for a store."""

from __future__ import annotations

import hashlib
from pathlib import Path

import dash

from dashboard import actions, downloads, headers, logs, routes, shell, terms, theme, words
from dashboard.accounts import door
from dashboard.actions import incoming as actions_incoming
from dashboard.faults import answer_fault
from dashboard.parts import entries as parts_entries
from dashboard.parts.place import enter as parts_place_enter
from dashboard.parts.start import page as parts_start_page
from dashboard.parts.trial import enter as parts_trial_enter
from dashboard.queries import edition

INDEX = """<!DOCTYPE html>
<html lang="en">
<head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>{%title%}</title>{%favicon%}{%css%}
<style>STYLE</style><script src="/assets/scheme.js?m=VERSION"></script></head>
<body>{%app_entry%}<footer class="dash">{%config%}{%scripts%}{%renderer%}</footer></body>
</html>"""


ASSETS = Path(__file__).parent / "assets"


def create_app(store: Path, hosts: tuple[str, ...] = (), names: tuple[str, ...] = ()) -> dash.Dash:
    """Return the application that shows the editions of a store.

    Parameters
    ----------
    store : Path
        Folder of the store. Nothing is read before the first request.
    hosts : tuple of str
        Addresses that are listened to, beside those of this machine itself.
    names : tuple of str
        Further names under which the pages are asked for.
    """
    scheme = hashlib.sha256((ASSETS / "scheme.js").read_bytes()).hexdigest()[:12]
    app = dash.Dash(
        "dashboard",
        use_pages=True,
        pages_folder=str(Path(__file__).parent / "pages"),
        assets_folder=str(ASSETS),
        assets_ignore=r"(scheme|door)\.js",
        title=words.PRODUCT,
        update_title=None,
        suppress_callback_exceptions=True,
        on_error=answer_fault,
        compress=True,
        index_string=INDEX.replace("STYLE", theme.style_variables()).replace("VERSION", scheme),
    )
    logs.install(app.server)
    edition.install(app.server, store)
    actions.install(app.server, store, hosts)
    actions_incoming.install(app.server)
    headers.install(app, (*hosts, *names))
    door.install(app, store, hosts)
    downloads.install(app.server)
    app.layout = shell.layout
    shell.register(app)
    parts_entries.register(app)
    parts_place_enter.register(app)
    parts_start_page.register(app)
    parts_trial_enter.register(app)
    routes.install(app)
    terms.install()
    door.install_callbacks(app)
    return app
