"""Addresses beside the pages: readiness, and names that the web server itself cannot match."""

from __future__ import annotations

from typing import Any

import dash
import flask

from dashboard.queries import edition


def install(app: dash.Dash) -> None:
    """Add ``/readyz`` and the answer to an unknown address to an app."""

    @app.server.get("/readyz")
    def ready() -> Any:
        try:
            return flask.jsonify(edition=edition.info()["edition"])
        except edition.EditionError as exc:
            return flask.jsonify(problem=str(exc)), 503

    @app.server.errorhandler(404)
    def unknown(_: Exception) -> Any:
        # A name may hold a line break, which the web server's own routing does not match.
        if flask.request.path.startswith("/places/"):
            return app.index()
        return "There is nothing at this address.", 404
