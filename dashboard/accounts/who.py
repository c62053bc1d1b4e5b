"""Who asks: the account of this request, and what its role allows."""

from __future__ import annotations

from pathlib import Path

import flask
import flask_login

from dashboard.accounts import forwarded
from etl.account import book, sessions
from etl.account.book import Account
from etl.account.front import Front
from etl.account.front import front as front

KEY = "BRAIDLIFE_ACCOUNTS"
EVERYONE = "No accounts: whoever uses this machine may enter and load, and nobody else comes in."


class User(flask_login.UserMixin):
    """An account for the length of a request; its id in the cookie is the session's secret."""

    def __init__(self, account: Account, token: str = "") -> None:
        """Remember both; without a secret, the server before this one vouches for the account."""
        self.account = account
        self.token = token

    def get_id(self) -> str:
        """Return what the cookie keeps."""
        return self.token


def store() -> Path:
    """Return the folder of the store."""
    found: Path = flask.current_app.config[KEY]
    return found


def has_accounts_in(folder: Path) -> bool:
    """Tell whether a store has accounts, before anything is served."""
    return book.exists(folder)


def has_accounts() -> bool:
    """Tell whether the store has accounts."""
    return book.exists(store())


def account() -> Account | None:
    """Return who has signed in; None for nobody, and where there are no accounts."""
    if not has_accounts():
        return None
    user = flask_login.current_user
    return user.account if isinstance(user, User) else None


def may(role: str) -> bool:
    """Tell whether this request may do what a role may; without accounts, all may."""
    found = account()
    return not has_accounts() or (found is not None and found.may(role))


def name_of(given: str) -> str:
    """Return whose name an entry bears: the account's where there are accounts."""
    found = account()
    return given if found is None else found.name


def user_of_cookie(token: str) -> User | None:
    """Return the user of a session; None where it is over, or the server before names another."""
    if not has_accounts():
        return None
    found = sessions.account_of(store(), token)
    named = _named(flask.request)
    if found is None or (named and book.key_of(named) != book.key_of(found.name)):
        return None
    return User(found, token)


def user_of_request(request: flask.Request) -> User | None:
    """Return the user whom the server before this one names; `is_spoofed` was asked before."""
    named = _named(request)
    if not named or not has_accounts():
        return None
    found = sessions.account_named(store(), named)
    return User(found) if found else None


def _named(request: flask.Request) -> str:
    """Return whom the server before this one names; nothing without such a server."""
    header = before().user_header
    return request.headers.get(header, "") if header else ""


def before() -> Front:
    """Return the server that stands before this one, as the settings name it."""
    if "accounts_front" not in flask.g:
        flask.g.accounts_front = front(store())
    known: Front = flask.g.accounts_front
    return known


def is_spoofed() -> bool:
    """Tell whether somebody else than that server sends its headers."""
    known = before()
    if not known.address or forwarded.peer() == known.address:
        return False
    return any(name in flask.request.headers
               for name in (known.user_header, *forwarded.HEADERS) if name)
