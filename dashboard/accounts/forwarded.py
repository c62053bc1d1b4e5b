"""Where a request comes from, also when another server stands before this one.

What such servers write into headers is believed of the one that the settings name, and of it only
the last entry, which it adds itself: all before it was sent by whoever asks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import flask
from werkzeug.middleware.proxy_fix import ProxyFix

from etl.account.front import front
from etl.account.limits import plain_address
from etl.errors import BraidlifeError

PEER = "braidlife.peer"
"""Key of the environment: who is connected to this server."""
HEADERS = ("X-Forwarded-For", "X-Forwarded-Proto")


class Forwarded:
    """Puts the address of the browser in the place of that of the named server."""

    def __init__(self, app: Callable[..., Iterable[bytes]], store: Path) -> None:
        """Remember what is asked next, and where the settings are."""
        self._app, self._store = app, store
        self._believing = ProxyFix(app, x_for=1, x_proto=1)

    def __call__(self, environ: dict[str, Any], start: Any) -> Iterable[bytes]:
        """Answer a request."""
        peer = environ[PEER] = plain_address(environ.get("REMOTE_ADDR", ""))
        try:
            named = front(self._store).address
        except BraidlifeError:
            named = ""  # the door reads them again, and says what is wrong
        return (self._believing if named and peer == named else self._app)(environ, start)


def peer() -> str:
    """Return the address that is connected to this server."""
    return str(flask.request.environ.get(PEER, ""))


def client() -> str:
    """Return the address that a request comes from, in one form."""
    return plain_address(flask.request.remote_addr or "unknown")


def cookie_name(name: str) -> str:
    """Return the name of a cookie of ours; over TLS one that no neighbouring site can set."""
    return f"__Host-{name}" if flask.request.is_secure else name
