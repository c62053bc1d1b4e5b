"""The server's way from one version of the software to the next without refusing anybody.

On SIGUSR1 the first process becomes the new software in its place: the same number, the same
socket, so whoever knocks meanwhile waits in its queue. The processes that answer go on with the
old software until those of the new one answer, then finish what they have begun.
"""

from __future__ import annotations

import logging
import os
import socket
import subprocess
import sys

log = logging.getLogger("braidlife.serve")
KNOWN_BY = "BRAIDLIFE_RENEWAL"
"""In the environment of the new software: the socket's file number and the processes to relieve."""
TRIAL_S = 60.0
TRIAL = "import etl.cli, dashboard.serve"


def taken_over() -> socket.socket | None:
    """Return the socket of the software before this one, None where this one is the first."""
    number = os.environ.get(KNOWN_BY, "").partition(":")[0]
    if not number:
        return None
    listener = socket.socket(fileno=int(number))
    listener.set_inheritable(False)
    return listener


def relieved() -> set[int]:
    """Return the processes of the software before this one, once."""
    listed = os.environ.pop(KNOWN_BY, "").partition(":")[2]
    return {int(each) for each in listed.split(",") if each}


def is_sound() -> bool:
    """Tell whether the software that lies there now can be loaded at all."""
    try:
        done = subprocess.run([sys.executable, "-c", TRIAL], stdin=subprocess.DEVNULL,
                              capture_output=True, timeout=TRIAL_S, check=False)
    except (OSError, subprocess.SubprocessError) as exc:
        log.error("the new software could not be tried: %s", type(exc).__name__)
        return False
    if done.returncode:
        log.error("the new software cannot be loaded; the old one goes on")
    return not done.returncode


def become_new(listener: socket.socket, running: set[int]) -> None:
    """Put the software that lies there now in the place of this process.

    Raises
    ------
    OSError
        It cannot be started.
    """
    listener.set_inheritable(True)
    os.environ[KNOWN_BY] = f"{listener.fileno()}:{','.join(map(str, sorted(running)))}"
    try:
        os.execv(sys.executable, [sys.executable, *sys.orig_argv[1:]])
    finally:
        os.environ.pop(KNOWN_BY, None)
        listener.set_inheritable(False)
