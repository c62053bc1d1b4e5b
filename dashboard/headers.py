"""Headers of every answer, and the refusal of writes that another site started."""

from __future__ import annotations

import dash
import flask
from werkzeug.exceptions import Forbidden

FIXED = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
}


def install(app: dash.Dash) -> None:
    """Set the headers on every answer of the app and check where a POST comes from."""
    known: list[str] = []

    @app.server.before_request
    def refuse_other_sites() -> None:
        # Browsers say where a request was started; a script of our own page is same-origin.
        started = flask.request.headers.get("Sec-Fetch-Site", "same-origin")
        if flask.request.method == "POST" and started not in ("same-origin", "none"):
            raise Forbidden("this request was started by another site")

    @app.server.after_request
    def set_headers(response: flask.Response) -> flask.Response:
        if not known:
            # Only now: the router's own inline script is registered at the first request.
            known.append(_policy(app))
        response.headers["Content-Security-Policy"] = known[0]
        for name, value in FIXED.items():
            response.headers[name] = value
        if response.mimetype in ("application/json", "text/html"):
            response.headers["Cache-Control"] = "no-store"
        return response


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
