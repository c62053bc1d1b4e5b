"""Serve the pages of a store on this machine."""

from __future__ import annotations

import socket
from pathlib import Path
from typing import Any

import waitress

from dashboard.actions import LARGEST
from dashboard.app import create_app
from dashboard.loopback import is_loopback

THREADS = 8
"""Requests answered at once; each holds a cursor of its own on the edition."""


def listening(store: Path, host: str, port: int) -> Any:
    """Return the web server of a store, which already listens but does not answer yet.

    Parameters
    ----------
    store : Path
        Folder of the store.
    host : str
        A loopback address: there are no accounts yet, so nobody else may be let in.
    port : int
        0 takes a free one.

    Raises
    ------
    ValueError
        The address would be reachable from other machines.
    OSError
        The port is taken.
    """
    if not is_loopback(host):
        raise ValueError(f"{host} can be reached from other machines, and there are no accounts")
    listener = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((host, port))
        listener.listen(128)
    except OSError:
        listener.close()
        raise
    return waitress.create_server(
        create_app(store, hosts=(host,)).server, sockets=[listener], threads=THREADS, ident="",
        clear_untrusted_proxy_headers=True, max_request_body_size=LARGEST,
    )


def serve(store: Path, host: str, port: int) -> None:
    """Serve until interrupted; prints the address once it is being listened to.

    Parameters and errors are those of `listening`.
    """
    server = listening(store, host, port)
    shown = f"[{host}]" if ":" in host else host
    print(f"Pages at http://{shown}:{server.effective_port}/  (stop with Ctrl+C)", flush=True)
    try:
        server.run()
    finally:
        server.close()
