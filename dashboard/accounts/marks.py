"""Signed marks that a browser keeps before anybody has signed in.

One proves that a form was fetched by the browser that sends it (a token in the form and the same in
a cookie), the other that an account has signed in from this browser before, so that wrong
passwords of strangers do not keep it out. Neither opens anything.
"""

from __future__ import annotations

import hmac
import secrets
from typing import Any

import flask
from itsdangerous import BadData, URLSafeTimedSerializer
from werkzeug.wrappers import Response

from dashboard.accounts import who
from dashboard.accounts.forwarded import cookie_name
from etl.account import book

FORM, FORM_S = "braidlife-form", 12 * 3600
"""A page to sign in may stay open for a shift."""
BROWSER, BROWSER_S = "braidlife-browser", 180 * 86400
MOST_NAMES = 30
"""Accounts that one browser is known for, such as that of a shared desk."""


def form_token(answering: Response) -> str:
    """Return the token of this browser's forms; its cookie goes out with the answer."""
    kept = flask.request.cookies.get(cookie_name(FORM), "")
    if _read(FORM, kept, FORM_S) is None:
        kept = str(_signer(FORM).dumps(secrets.token_urlsafe(16)))
    _set(answering, FORM, kept, FORM_S)
    return kept


def is_own_form(given: str) -> bool:
    """Tell whether a form was fetched by the browser that sends it, not too long ago."""
    kept = flask.request.cookies.get(cookie_name(FORM), "")
    is_same = hmac.compare_digest(kept.encode("utf-8", "replace"), given.encode("utf-8", "replace"))
    return is_same and _read(FORM, kept, FORM_S) is not None


def known(name: str) -> str:
    """Return the mark of this browser if an account has signed in from it; else nothing."""
    told = _told()
    return str(told["mark"]) if _sign_of(name) in told["names"] else ""


def remember(answering: Response, name: str) -> None:
    """Let this browser be known for an account."""
    told, sign = _told(), _sign_of(name)
    told["names"] = [*(each for each in told["names"] if each != sign), sign][-MOST_NAMES:]
    _set(answering, BROWSER, _signer(BROWSER).dumps(told), BROWSER_S)


def _told() -> dict[str, Any]:
    kept = _read(BROWSER, flask.request.cookies.get(cookie_name(BROWSER), ""), BROWSER_S)
    return kept if isinstance(kept, dict) else {"mark": secrets.token_urlsafe(16), "names": []}


def _sign_of(name: str) -> str:
    """Return the short form of a name: the cookie tells nobody who works here."""
    return book.hashed(f"{book.secret(who.store())}\n{book.key_of(name)}")[:16]


def _signer(purpose: str) -> URLSafeTimedSerializer:
    return URLSafeTimedSerializer(book.secret(who.store()), salt=purpose)


def _read(purpose: str, kept: str, longest_s: int) -> Any:
    try:
        return _signer(purpose).loads(kept, max_age=longest_s)
    except BadData:
        return None


def _set(answering: Response, purpose: str, value: str, longest_s: int) -> None:
    answering.set_cookie(cookie_name(purpose), value, max_age=longest_s, httponly=True, path="/",
                         secure=flask.request.is_secure, samesite="Strict")
