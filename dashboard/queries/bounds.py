"""A bound on the time of a question: one thread watches all of them and stops those over it."""

from __future__ import annotations

import heapq
import itertools
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field


@dataclass(order=True)
class Bound:
    """One question while it is being answered."""

    due: float
    number: int
    stop: Callable[[], None] | None = field(compare=False)
    """None once it has been answered."""


class Watch:
    """Stops what takes longer than it may.

    Notes
    -----
    A timer of its own for each question would start a thread each; here a question costs two
    turns of a lock. A question is stopped only while it is still being answered: both ends are
    under the lock, so that the next question of the same cursor is never hit.
    """

    def __init__(self) -> None:
        """Start with nothing to watch and no thread."""
        self._turn = threading.Condition()
        self._waiting: list[Bound] = []
        self._numbers = itertools.count()
        self._thread: threading.Thread | None = None

    @contextmanager
    def limit(self, seconds: float, stop: Callable[[], None]) -> Iterator[None]:
        """Call `stop` when the block takes longer than it may.

        Parameters
        ----------
        seconds : float
        stop : callable
            Interrupts what the block waits for; called at most once, from another thread.
        """
        bound = Bound(time.monotonic() + seconds, next(self._numbers), stop)
        with self._turn:
            if self._thread is None or not self._thread.is_alive():
                self._thread = threading.Thread(target=self._run, name="bounds", daemon=True)
                self._thread.start()
            heapq.heappush(self._waiting, bound)
            if self._waiting[0] is bound:
                self._turn.notify()
        try:
            yield
        finally:
            with self._turn:
                bound.stop = None

    def _run(self) -> None:
        with self._turn:
            while True:
                while self._waiting and (self._waiting[0].stop is None
                                         or self._waiting[0].due <= time.monotonic()):
                    stop = heapq.heappop(self._waiting).stop
                    if stop is not None:
                        stop()
                wait_s = self._waiting[0].due - time.monotonic() if self._waiting else None
                self._turn.wait(wait_s)
