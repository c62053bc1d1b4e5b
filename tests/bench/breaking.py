"""What breaking things at random needs: processes to be killed, and what is held to be whole."""

from __future__ import annotations

import os
import signal
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from etl.errors import BraidlifeError
from etl.load import archive
from tests.faults.small import tables


@dataclass
class Outcome:
    """What became of one kind of fault."""

    tried: int = 0
    lost: list[str] = field(default_factory=list)
    seen: Counter[str] = field(default_factory=Counter)

    def check(self, holds: bool, what: str) -> None:
        """Note what does not hold."""
        if not holds:
            self.lost.append(what)


def is_whole(store: Path) -> bool:
    """Tell whether the pointer names an edition that can be read, and all that is registered is."""
    try:
        for item in archive.registered(store):
            archive.archived(store, item)
        return bool(tables(store)["lives"])
    except BraidlifeError:
        return False


def in_child(work: Callable[[], Any]) -> int:
    """Run something in a process split off, and return its number."""
    child = os.fork()
    if child:
        return child
    try:
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, 1)
        os.dup2(null, 2)
        work()
        os._exit(0)
    finally:
        os._exit(1)


def killed_after(child: int, seconds: float, since: Callable[[], bool] = lambda: True) -> bool:
    """Kill a process so long after something was seen; False where it had ended before."""
    until = None
    while until is None or time.monotonic() < until:
        if os.waitpid(child, os.WNOHANG)[0]:
            return False
        if until is None and since():
            until = time.monotonic() + seconds
        time.sleep(0.0005)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return True
