"""The web application: one function that builds it for a store."""

from __future__ import annotations

from pathlib import Path

import dash

from dashboard import downloads, headers, routes, shell, theme, words
from dashboard.faults import answer_fault
from dashboard.queries import edition

INDEX = """<!DOCTYPE html>
<html lang="en">
<head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>{%title%}</title>{%favicon%}{%css%}
<style>STYLE</style><script src="/assets/scheme.js"></script></head>
<body>{%app_entry%}<footer class="dash">{%config%}{%scripts%}{%renderer%}</footer></body>
</html>"""


def create_app(store: Path) -> dash.Dash:
    """Return the application that shows the editions of a store.

    Parameters
    ----------
    store : Path
        Folder of the store. Nothing is read before the first request.
    """
    app = dash.Dash(
        "dashboard",
        use_pages=True,
        pages_folder=str(Path(__file__).parent / "pages"),
        assets_folder=str(Path(__file__).parent / "assets"),
        assets_ignore=r"scheme\.js",
        title=words.PRODUCT,
        update_title=None,
        suppress_callback_exceptions=True,
        health_endpoint="healthz",
        on_error=answer_fault,
        index_string=INDEX.replace("STYLE", theme.style_variables()),
    )
    edition.install(app.server, store)
    headers.install(app)
    downloads.install(app.server)
    app.layout = shell.layout
    shell.register(app)
    routes.install(app)
    return app
