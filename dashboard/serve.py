"""Serve the pages of a store on this machine."""

from __future__ import annotations

import ipaddress
import socket
from pathlib import Path

import waitress

from dashboard.app import create_app
from dashboard.headers import LARGEST_BODY

THREADS = 8
"""Requests answered at once; each holds a cursor of its own on the edition."""


def is_loopback(host: str) -> bool:
    """Tell whether an address reaches no further than this machine.

    Examples
    --------
    >>> is_loopback("127.0.0.1"), is_loopback("localhost"), is_loopback("0.0.0.0")
    (True, True, False)
    """
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def serve(store: Path, host: str, port: int) -> None:
    """Serve until interrupted; prints the address once it is being listened to.

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
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as listener:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((host, port))
        listener.listen(128)
        app = create_app(store, hosts=(host,))
        server = waitress.create_server(
            app.server, sockets=[listener], threads=THREADS, ident="",
            clear_untrusted_proxy_headers=True, max_request_body_size=LARGEST_BODY,
        )
        shown = f"[{host}]" if ":" in host else host
        address = f"http://{shown}:{listener.getsockname()[1]}/"
        print(f"Pages at {address}  (stop with Ctrl+C)", flush=True)
        try:
            server.run()
        finally:
            server.close()
