"""Lines of the web process on stderr: plain or JSON, never with an address, a name or a path."""

from __future__ import annotations

import datetime as dt
import json
import logging
import sys
import time
from typing import Any

import flask

OURS = "braidlife"
requests_log = logging.getLogger("braidlife.requests")
METHODS = ("GET", "HEAD", "POST", "OPTIONS")


class Lines(logging.Formatter):
    """One line a record.

    Parameters
    ----------
    is_json : bool
        JSON objects instead of words.

    Notes
    -----
    Of what libraries say only the fixed part is kept: into the rest they put addresses, which
    hold the names of places, and traces, which hold the paths of a machine. A fault is told by
    its kind; where it came from is a matter of the level DEBUG.
    """

    def __init__(self, is_json: bool) -> None:
        """Remember the form."""
        super().__init__()
        self._is_json = is_json

    def format(self, record: logging.LogRecord) -> str:
        """Return a record as one line."""
        is_ours = record.name.split(".")[0] == OURS
        text = record.getMessage() if is_ours else str(record.msg)
        about: dict[str, Any] = dict(getattr(record, "about", {}))
        if record.exc_info and record.exc_info[0] is not None:
            about["fault"] = record.exc_info[0].__name__
        if not self._is_json:
            more = "".join(f" {name}={value}" for name, value in about.items())
            return f"{record.levelname.lower()} {record.name}: {text}{more}".replace("\n", " ")
        at = dt.datetime.fromtimestamp(record.created, dt.UTC)
        return json.dumps({"at": at.isoformat(timespec="milliseconds"),
                           "level": record.levelname.lower(), "logger": record.name,
                           "event": text, **about})


def to_stderr(is_json: bool) -> None:
    """Let everything that this process says go to stderr, one line each.

    Parameters
    ----------
    is_json : bool
        JSON lines, with one for each request; otherwise words, warnings only.
    """
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(Lines(is_json))
    root = logging.getLogger()
    root.handlers = [handler]
    root.setLevel(logging.INFO if is_json else logging.WARNING)
    # It warns of every request that has to wait its turn.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)


def install(app: flask.Flask) -> None:
    """Let an app tell of every request: what kind of address, status and time, nothing more."""

    @app.before_request
    def begin() -> None:
        flask.g.began = time.perf_counter()

    @app.after_request
    def tell(response: flask.Response) -> flask.Response:
        if requests_log.isEnabledFor(logging.INFO):
            method, rule = flask.request.method, flask.request.url_rule
            began = flask.g.get("began", time.perf_counter())
            requests_log.info("answered", extra={"about": {
                "method": method if method in METHODS else "other",
                "route": rule.rule if rule is not None else "none",
                "status": response.status_code,
                "ms": round(1000 * (time.perf_counter() - began), 1)}})
        return response
