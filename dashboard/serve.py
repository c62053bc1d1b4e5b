"""Serve the pages of a store on this machine."""

from __future__ import annotations

import logging
import os
import resource
import socket
from collections.abc import Callable
from pathlib import Path
from typing import Any

import flask
import waitress

from dashboard import logs, processes, renewal, stop
from dashboard.accounts.who import front
from dashboard.accounts.who import has_accounts_in as has_accounts
from dashboard.actions import LARGEST
from dashboard.app import create_app
from dashboard.loopback import is_loopback
from dashboard.queries import edition, warm
from dashboard.routes import HEALTH

THREADS = 8
"""Requests answered at once; each holds a cursor of its own on the edition."""
MOST_PROCESSES = 4
"""Unless told otherwise; each remembers its own answers, 200 megabytes at most."""
MOST_CONNECTIONS = 4000
"""Open at once; each is a browser that waits its turn, and takes a file number."""
SPARE_FILES = 200
"""File numbers for all else: the edition, the parts of the pages, entries."""
log = logging.getLogger("braidlife.serve")


def listening(store: Path, host: str, port: int) -> Any:
    """Return the web server of a store, which already listens but does not answer yet.

    Parameters
    ----------
    store : Path
        Folder of the store.
    host : str
        A loopback address where the store has no accounts, so that nobody else is let in.
    port : int
        0 takes a free one.

    Raises
    ------
    ValueError
        The address would be reachable from other machines.
    OSError
        The port is taken.
    """
    listener = _listener(store, host, port)
    return _server(_app(store, host), listener, None)


def _app(store: Path, host: str, names: tuple[str, ...] = ()) -> flask.Flask:
    """Return the application, with its callbacks in place before anybody can ask for one.

    They are put there by the first request; a second one beside it would find some missing. It
    sees an empty store: a process that splits off later must copy no database and no lock of one.
    """
    app = create_app(store, hosts=(host,), names=names).server
    with edition.as_if_empty(app):
        app.test_client().get(HEALTH[0])
    return app


def _listener(store: Path, host: str, port: int) -> socket.socket:
    """Return a socket that listens; errors are those of `listening`."""
    if not is_loopback(host) and not has_accounts(store):
        raise ValueError(f"{host} can be reached from other machines, and there are no accounts")
    if (before := renewal.taken_over()) is not None:
        return before
    listener = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((host, port))
        listener.listen(1024)
    except OSError:
        listener.close()
        raise
    return listener


def _server(app: Any, listener: socket.socket, channels: dict[int, Any] | None) -> Any:
    """Return a web server with threads of its own on a socket that listens.

    What a server before it says in headers goes on to the door, which knows whom to believe.
    """
    return waitress.create_server(
        app, map=channels, sockets=[listener], threads=THREADS,
        ident="", clear_untrusted_proxy_headers=False, max_request_body_size=LARGEST,
        connection_limit=_connections(), asyncore_use_poll=True,
    )


def _connections() -> int:
    """Return how many connections this process can hold, after asking for what it may have."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = MOST_CONNECTIONS + SPARE_FILES
    most = wanted if hard == resource.RLIM_INFINITY else min(wanted, hard)
    if soft != resource.RLIM_INFINITY and soft < most:
        resource.setrlimit(resource.RLIMIT_NOFILE, (most, hard))
        soft = most
    # Few file numbers leave few connections, never none.
    return MOST_CONNECTIONS if soft == resource.RLIM_INFINITY else max(
        50, min(MOST_CONNECTIONS, soft - SPARE_FILES))


def serve(store: Path, host: str, port: int, is_json: bool = False, n_processes: int = 0,
          names: tuple[str, ...] = ()) -> None:
    """Serve until told to stop; prints the address once it is being listened to.

    Parameters and errors are those of `listening`; `is_json` makes the log lines of JSON, and
    0 for `n_processes` takes as many as there are cores, at most `MOST_PROCESSES`; `names` are
    those under which browsers ask for the pages, beside the address itself.

    Notes
    -----
    SIGTERM and SIGINT end it after the requests that were begun. A new edition needs no restart:
    the next request reads it, and those that were begun end with the one they began with. On
    SIGUSR1 new software takes the place of this one, and nobody is refused meanwhile.
    """
    listener = _listener(store, host, port)
    front(store)  # settings that cannot be read stop it here, in words
    # Made once, before any process splits off: they all know the same tokens.
    app = _app(store, host, names)
    logs.to_stderr(is_json)
    shown = f"[{host}]" if ":" in host else host
    taken = listener.getsockname()[1]
    print(f"Pages at http://{shown}:{taken}/  (stop with Ctrl+C)", flush=True)
    log.info("serving", extra={"about": {"port": taken}})

    def answer(is_left: Callable[[], bool]) -> None:
        warm.install(app)  # in each process: it remembers its own answers
        channels: dict[int, Any] = {}
        stop.run(_server(app, listener, channels), channels, is_left)

    def renew(running: set[int]) -> None:
        if renewal.is_sound():
            log.info("becoming the new software")
            try:
                renewal.become_new(listener, running)
            except OSError as exc:
                log.error("the new software did not start, the old one goes on: %s",
                          type(exc).__name__)

    number = n_processes or min(MOST_PROCESSES, len(os.sched_getaffinity(0)))
    processes.run(answer, number, renew, renewal.relieved())
    log.info("ended")
