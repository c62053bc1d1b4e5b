"""Run the web server until it is told to stop, and then finish what was begun."""

from __future__ import annotations

import logging
import select
import signal
import time
from collections.abc import Callable
from typing import Any

from waitress import wasyncore
from waitress.channel import HTTPChannel

log = logging.getLogger("braidlife.serve")
LONGEST_FINISH_S = 25.0
"""For requests that were begun: more than the longest question takes. Whoever stops the process
should give it a few seconds more before killing it."""

LONGEST_SILENCE_S = 3.0
"""For whoever knocked before the door was closed and has asked for nothing yet."""


def run(server: Any, channels: dict[int, Any],
        is_left: Callable[[], bool] = lambda: False) -> None:
    """Answer until SIGTERM or SIGINT, then let nobody in, finish, and return.

    Parameters
    ----------
    server : waitress server
    channels : dict
        Its connections by file number, itself among them.
    is_left : callable
        Tells whether whoever started this process is gone; it stops then as well.

    Notes
    -----
    A second SIGINT ends the process at once. SIGINT is left as it is where it is ignored.
    """
    asked: list[int] = []

    def stop(number: int, _: Any) -> None:
        asked.append(number)
        if number == signal.SIGINT:
            signal.signal(signal.SIGINT, signal.SIG_DFL)
        server.pull_trigger()

    signal.signal(signal.SIGTERM, stop)
    if signal.getsignal(signal.SIGINT) is not signal.SIG_IGN:
        signal.signal(signal.SIGINT, stop)
    while not asked and not is_left():
        _turn(channels, 1.0)
    began = time.monotonic()
    log.info("stopping")
    n_cut = _finish(server, channels)
    server.task_dispatcher.shutdown(timeout=1)
    wasyncore.close_all(channels)
    level = logging.WARNING if n_cut else logging.INFO
    log.log(level, "stopped", extra={"about": {
        "requests_cut_off": n_cut, "seconds": round(time.monotonic() - began, 1)}})


def _turn(channels: dict[int, Any], wait_s: float) -> None:
    """Read and write what can be, once."""
    wasyncore.loop(timeout=wait_s, use_poll=True, map=channels, count=1)


def _finish(server: Any, channels: dict[int, Any]) -> int:
    """Let in who already knocked, close the door, and answer; return how many were cut off."""
    while select.select([server.socket], [], [], 0)[0]:
        server.handle_accept()
    wasyncore.dispatcher.close(server)  # the door alone: what wakes the loop stays
    closed = time.monotonic()
    _turn(channels, 0.1)
    while busy := _close_idle(channels, time.monotonic() < closed + LONGEST_SILENCE_S):
        if time.monotonic() > closed + LONGEST_FINISH_S:
            break
        _turn(channels, 0.1)
    return busy


def _close_idle(channels: dict[int, Any], is_patient: bool) -> int:
    """Close connections on which nothing is under way; return how many others there are.

    Patient, it leaves those on which nothing came yet: between a knock and the question a
    visitor's machine may be busy.
    """
    busy = 0
    for channel in [each for each in channels.values() if isinstance(each, HTTPChannel)]:
        # In this order: a request leaves the list after its answer has gone into the buffer.
        is_new = channel.last_activity == channel.creation_time  # set together, then by every read
        if (channel.requests or channel.request is not None or channel.total_outbufs_len
                or (is_new and is_patient)):
            busy += 1
        else:
            channel.handle_close()
    return busy
