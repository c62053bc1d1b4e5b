"""Headers of every answer, how long browsers keep it, and the refusal of foreign requests."""

from __future__ import annotations

from urllib.parse import urlsplit

import dash
import flask
from werkzeug.exceptions import BadRequest, Forbidden

FIXED = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
}
FOREVER = "public, max-age=31536000, immutable"
"""For files whose address changes with their content."""
A_WEEK = "public, max-age=604800"
"""For fonts, which style sheets name without a version."""
LARGEST_BODY = 4_000_000
"""Bytes of a request: filters and choices need a few thousand."""
OWN_HOSTS = ("localhost", "127.0.0.1", "::1")
"""Names under which this machine asks itself. A page of another site that points its own name
here would otherwise pass for ours and could read everything."""


def install(app: dash.Dash, hosts: tuple[str, ...] = ()) -> None:
    """Set the headers on every answer of the app and check where a request comes from.

    Parameters
    ----------
    app : Dash
    hosts : tuple of str
        Names of the server beside `OWN_HOSTS`.
    """
    known: list[str] = []
    app.server.config["MAX_CONTENT_LENGTH"] = LARGEST_BODY

    @app.server.before_request
    def refuse_other_sites() -> None:
        if _name_of(flask.request.host) not in (*OWN_HOSTS, *hosts):
            raise BadRequest("these pages are not served under this name")
        # Browsers say where a request was started; a script of our own page is same-origin.
        started = flask.request.headers.get("Sec-Fetch-Site", "same-origin")
        if flask.request.method == "POST" and started not in ("same-origin", "none"):
            raise Forbidden("this request was started by another site")
        origin = flask.request.headers.get("Origin")
        if flask.request.method == "POST" and origin is not None and (
                urlsplit(origin).netloc != flask.request.host):
            raise Forbidden("this request was started by another site")

    @app.server.after_request
    def set_headers(response: flask.Response) -> flask.Response:
        if not known:
            # Only now: the router's own inline script is registered at the first request.
            known.append(_policy(app))
        response.headers["Content-Security-Policy"] = known[0]
        for name, value in FIXED.items():
            response.headers[name] = value
        if response.is_streamed and flask.request.path.startswith("/assets/"):
            # Small files, read whole: the compressor would not close what it reads piece by piece.
            response.direct_passthrough = False
            response.make_sequence()
        kept = _kept(response)
        if kept is not None:
            response.headers["Cache-Control"] = kept
        return response


def _name_of(host: str) -> str | None:
    """Return the name in a Host header without its port, None where it holds no name."""
    try:
        return urlsplit(f"//{host}").hostname
    except ValueError:
        return None


def _kept(response: flask.Response) -> str | None:
    """Return how long a browser may keep an answer, None for the server's own choice."""
    path = flask.request.path
    if response.status_code >= 400 or not path.startswith(("/assets/", "/_dash-component-suites/")):
        return "no-store"
    if path.startswith("/assets/fonts/"):
        return A_WEEK
    is_versioned = "m" in flask.request.args or response.cache_control.max_age is not None
    return FOREVER if is_versioned else None


def _policy(app: dash.Dash) -> str:
    """Return the content security policy; styles are inline because figures set theirs so."""
    return "; ".join(
        (
            "default-src 'self'",
            "script-src 'self' " + " ".join(app.csp_hashes()),
            "style-src 'self' 'unsafe-inline'",
            "img-src 'self' data: blob:",
            "worker-src 'self' blob:",
            "font-src 'self' data:",
            "connect-src 'self'",
            "frame-ancestors 'none'",
            "base-uri 'self'",
            "form-action 'self'",
            "object-src 'none'",
        )
    )
