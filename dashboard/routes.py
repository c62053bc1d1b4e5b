"""Addresses beside the pages, and the status of an address: 200 where something is, 404 if not."""

from __future__ import annotations

import logging
import re
from typing import Any

import dash
import flask
from dash.exceptions import DependencyException
from werkzeug.exceptions import HTTPException

from dashboard import questions
from dashboard.faults import in_words
from dashboard.queries import edition, lives, place, trials
from dashboard.record.view import is_hose

log = logging.getLogger("braidlife.pages")
SHELL = "/<path:path>"
"""Endpoint that answers every address with the shell, which then asks for its page."""
FEW = 8
"""Slashes of an address that are tried as the one between two names."""
NOTHING = "There is nothing at this address."
HEALTH, READY = ("/health", "/healthz"), ("/ready", "/readyz")
"""Addresses for whoever watches the process; they need no sign-in and tell nothing of the data."""


def install(app: dash.Dash) -> None:
    """Add ``/health`` and ``/ready``, the status of unknown addresses and the answer to faults."""
    for address in HEALTH:
        app.server.get(address, endpoint=address)(alive)
    for address in READY:
        app.server.get(address, endpoint=address)(ready)
    app.server.after_request(tell_unknown)
    app.server.register_error_handler(DependencyException, no_such_component)
    app.server.register_error_handler(Exception, fault)

    questions.install(app)

    @app.server.errorhandler(404)
    def unknown(_: Exception) -> Any:
        # A name may hold a line break, which the web server's own routing does not match.
        path = flask.request.path
        if path.startswith(("/places/", "/teardown/", "/trials/")):
            return app.index(), 200 if is_page(path) else 404
        return NOTHING, 404


def alive() -> Any:
    """Answer that the process answers; the store is not touched."""
    return flask.jsonify(status="ok")


def ready() -> Any:
    """Answer whether an edition can be read, and which."""
    try:
        return flask.jsonify(edition=edition.info()["edition"])
    except edition.EditionError as exc:
        return flask.jsonify(problem=str(exc)), 503


def tell_unknown(response: flask.Response) -> flask.Response:
    """Give the shell, which is sent to every address, the status of its page."""
    is_shown = flask.request.endpoint == SHELL and response.status_code == 200  # not refused
    if is_shown and not is_page(flask.request.path):
        response.status_code = 404
    return response


def no_such_component(_: Exception) -> Any:
    """Answer an address among the scripts of the pages that is none of them."""
    return NOTHING, 404


def fault(exc: Exception) -> Any:
    """Answer anything unforeseen in words, with one line in the log."""
    if isinstance(exc, HTTPException):
        return exc
    log.error("request failed: %s", type(exc).__name__)
    log.debug("details", exc_info=exc)
    title, text = in_words(exc)
    status = 500 if edition.explain(exc) is None else 503
    return flask.Response(f"{title} {text}", status=status, mimetype="text/plain")


def is_page(path: str) -> bool:
    """Tell whether an address shows a page; those of places and kinds must be in the edition."""
    for page in dash.page_registry.values():
        template = page["path_template"]
        if page["module"].endswith("not_found_404"):
            continue
        if template is None and path.rstrip("/") == page["path"].rstrip("/"):
            return True
        if template and re.fullmatch(re.sub("<.*?>", ".+", template), path, re.DOTALL):
            return _is_published(path)
    return False


def _is_published(path: str) -> bool:
    """Ask the edition for what the address names; without an edition the page says so."""
    _, page, rest = path.split("/", 2)
    try:
        if page == "places":
            return place.one(rest) is not None
        if page == "teardown":
            return is_hose(rest, flask.request.args)
        if page == "trials":
            return trials.exists(rest)
        # A name may hold a slash of its own, which the web server hands over like any other.
        slashes = [at for at, sign in enumerate(rest) if sign == "/"][:FEW]
        return any(lives.cell(rest[:at], rest[at + 1:]) for at in slashes)
    except Exception as exc:
        if edition.explain(exc) is None:
            raise
        return True
