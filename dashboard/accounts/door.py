"""The door: nobody passes without an account whose role allows it, whatever the address.

What is not listed here needs a viewer to read it and a keeper to send to it; a callback that bears
the token of writing needs a recorder, and one that loads files a keeper. Without accounts the
pages open on this machine only.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any
from urllib.parse import quote

import dash
import flask
import flask_login
from flask.sessions import SecureCookieSessionInterface
from werkzeug.exceptions import BadRequest, Forbidden, Unauthorized

from dashboard.accounts import forms, forwarded, who
from dashboard.loopback import is_address, is_loopback
from dashboard.questions import ADDRESS
from dashboard.routes import HEALTH, READY
from etl.account import book
from etl.errors import BraidlifeError

OPEN = ("/sign-in", "/_favicon.ico", *HEALTH, *READY)
OPEN_ENDPOINTS = ("_dash_assets.static", "accounts.invitation", "accounts.accept")
"""Style, letters and scripts of ours hold nothing of the data; a link is its own proof."""
NEEDS = {"/check-file": "recorder", "/incoming": "keeper", "/accounts": "keeper"}
SENT_BY_VIEWERS = (ADDRESS, "/sign-out")
"""Callbacks, which are asked for their own role, and the way out."""
TOKEN = "entry-token"
LOADS = "start-"
NOT_YOURS = "Your role does not allow this. Ask a keeper."


class Cookies(SecureCookieSessionInterface):
    """Signed cookies, with the secret that the store's own accounts keep."""

    def get_signing_serializer(self, app: flask.Flask) -> Any:
        """Return what signs; None without accounts, when there is nothing to sign."""
        folder: Path = app.config[who.KEY]
        if not book.exists(folder):
            return None
        try:
            app.secret_key = book.secret(folder)
        except BraidlifeError:
            return None  # nobody is known then; the door says why
        return super().get_signing_serializer(app)

    def get_cookie_name(self, app: flask.Flask) -> str:
        """Return the name of the cookie; over TLS one that no neighbouring site can set."""
        return forwarded.cookie_name(super().get_cookie_name(app))

    def get_cookie_secure(self, app: flask.Flask) -> bool:
        """Tell whether the cookie goes over encrypted connections only: where this is one."""
        return flask.request.is_secure


def install(app: dash.Dash, store: Path, hosts: Sequence[str]) -> None:
    """Put the door before everything that an app answers; `install_callbacks` completes it."""
    server = app.server
    server.config[who.KEY] = store
    server.config.update(SESSION_COOKIE_NAME="braidlife-session", SESSION_COOKIE_HTTPONLY=True,
                         SESSION_COOKIE_SAMESITE="Lax", SESSION_REFRESH_EACH_REQUEST=False)
    server.session_interface = Cookies()
    server.wsgi_app = forwarded.Forwarded(server.wsgi_app, store)
    known = flask_login.LoginManager(server)
    known.session_protection = None  # the server keeps sessions; addresses of phones change
    known.user_loader(who.user_of_cookie)
    known.request_loader(who.user_of_request)
    is_local = all(is_loopback(host) for host in hosts)

    @server.before_request
    def ask() -> Any:
        try:
            return _ask(is_local)
        except BraidlifeError as exc:  # a door that cannot be read stays shut
            return flask.Response(str(exc), status=503, mimetype="text/plain")

    server.register_blueprint(forms.pages)


def install_callbacks(app: dash.Dash) -> None:
    """Ask for the role of each callback; after what refuses callbacks that are not known."""

    @app.server.before_request
    def ask_callback() -> None:
        if flask.request.path == ADDRESS and flask.request.method == "POST":
            body = flask.request.get_json()
            if not who.may(role_of(app.callback_map[body["output"]], body["output"])):
                raise Forbidden(NOT_YOURS)


def role_of(listed: Mapping[str, Any], output: str) -> str:
    """Return the role that a callback needs."""
    if all(item["id"] != TOKEN for item in [*listed["inputs"], *listed["state"]]):
        return "viewer"
    return "keeper" if output.strip(".").startswith(LOADS) else "recorder"


def role_of_path(path: str, method: str = "GET") -> str:
    """Return the role that an address needs; to send to one that is not listed takes a keeper."""
    for start, role in NEEDS.items():
        if path == start or path.startswith(f"{start}/"):
            return role
    is_read = method in ("GET", "HEAD", "OPTIONS") or path in SENT_BY_VIEWERS
    return "viewer" if is_read else "keeper"


def _ask(is_local: bool) -> Any:
    """Let a request pass (None), send it to sign in, or refuse it."""
    path = flask.request.path
    if not who.has_accounts():
        if is_local and all(map(is_loopback, (forwarded.peer(), forwarded.client()))):
            return None
        return None if path in HEALTH + READY else _shut()
    book.secret(who.store())  # a file that cannot be read is told before anything is asked of it
    if who.is_spoofed():
        raise Forbidden("such a header is taken from the server before this one only")
    if not is_address(forwarded.client()):
        raise BadRequest("the server before this one does not say where this comes from")
    if path in OPEN or flask.request.endpoint in OPEN_ENDPOINTS:
        return None
    if who.account() is None:
        wanted = flask.request.headers.get("Accept", "")
        if flask.request.method in ("GET", "HEAD") and "text/html" in wanted:
            asked = flask.request.full_path.rstrip("?")
            return flask.redirect(f"/sign-in?next={quote(asked, safe='/')}")
        raise Unauthorized("Sign in first.")
    if not who.may(role_of_path(path, flask.request.method)):
        raise Forbidden(NOT_YOURS)
    return None


def _shut() -> Any:
    raise Forbidden("these pages have no accounts, so they open on their own machine only")
