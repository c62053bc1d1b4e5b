"""Several processes behind one address: more cores are used, and one that dies is replaced."""

from __future__ import annotations

import contextlib
import logging
import os
import signal
import time
from collections.abc import Callable, Iterable

from dashboard.stop import LONGEST_FINISH_S

log = logging.getLogger("braidlife.serve")
HEARD = (signal.SIGTERM, signal.SIGINT, signal.SIGCHLD, signal.SIGUSR1)
LONGEST_KILL_S = LONGEST_FINISH_S + 3.0
BETWEEN_STARTS_S = 1.0
"""A process that dies at once is not started anew without a pause."""


def run(serve: Callable[[Callable[[], bool]], None], number: int,
        renew: Callable[[set[int]], None] = lambda _: None, before: Iterable[int] = ()) -> None:
    """Keep so many processes serving until SIGTERM or SIGINT, then let them finish.

    Parameters
    ----------
    serve : callable
        Serves in a process of its own until it is told to stop; gets a function that tells whether
        this process is gone.
    number : int
    renew : callable
        Called on SIGUSR1 with the processes that serve; returns where nothing came of it.
    before : iterable of int
        Processes that served till now: told to finish as soon as the others are there.

    Notes
    -----
    Whoever is asked for something by a process that dies gets no answer; the others go on. A
    second SIGINT kills them all at once.
    """
    signal.pthread_sigmask(signal.SIG_BLOCK, HEARD)
    try:
        running = {_start(serve) for _ in range(number)}
        latest, relieved = time.monotonic(), set(before)
        _tell(relieved)
        while (heard := _next(1.0)) not in (signal.SIGTERM, signal.SIGINT):
            _ended(relieved)
            if heard == signal.SIGUSR1:
                renew(running | relieved)
            dead = _ended(running)
            if dead and time.monotonic() - latest < BETWEEN_STARTS_S:
                time.sleep(BETWEEN_STARTS_S)
            for _ in dead:
                log.warning("a process of the server died and is started anew")
                running.add(_start(serve))
                latest = time.monotonic()
        _stop(running | relieved)
    finally:
        signal.pthread_sigmask(signal.SIG_UNBLOCK, HEARD)


def _start(serve: Callable[[Callable[[], bool]], None]) -> int:
    """Start a process that serves and return its number."""
    parent = os.getpid()
    child = os.fork()
    if child:
        return child
    status = 1
    try:
        # Ctrl+C reaches all processes of a terminal; this one is told by its parent.
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        signal.signal(signal.SIGUSR1, signal.SIG_IGN)
        signal.pthread_sigmask(signal.SIG_UNBLOCK, HEARD)
        serve(lambda: os.getppid() != parent)
        status = 0
    except Exception as exc:
        log.error("a process of the server failed: %s", type(exc).__name__)
    finally:
        os._exit(status)


def _next(wait_s: float) -> int:
    """Return the next signal, 0 where none comes in time."""
    found = signal.sigtimedwait(HEARD, wait_s)
    return found.si_signo if found else 0


def _ended(running: set[int]) -> list[int]:
    """Take the processes that have ended out of those that run, and return them."""
    ended = [each for each in running if os.waitpid(each, os.WNOHANG)[0]]
    running.difference_update(ended)
    return ended


def _tell(running: set[int]) -> None:
    """Tell processes to finish; one that is gone needs no telling."""
    for each in running:
        with contextlib.suppress(ProcessLookupError):
            os.kill(each, signal.SIGTERM)


def _stop(running: set[int]) -> None:
    """Tell all to stop and wait; kill those that do not."""
    _tell(running)
    until = time.monotonic() + LONGEST_KILL_S
    while running:
        _ended(running)
        if running and (_next(0.2) == signal.SIGINT or time.monotonic() > until):
            for each in running:
                os.kill(each, signal.SIGKILL)
            until = float("inf")
