"""Work done aside, in a second process, while the build goes on with what does not need it."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from typing import Any

Then = Callable[[Any], object]


class Aside:
    """Does work where it is asked for, at once: what a small fleet wants."""

    def run(self, then: Then, function: Callable[..., Any], *given: Any) -> None:
        """Do some work and hand its result on, now or by the time of `finish`.

        Parameters
        ----------
        then : callable
            Gets the result, in this process.
        function : callable
            Pure, of a module: it may run in another process.
        *given
            Its arguments.

        Examples
        --------
        >>> Aside().run(print, max, 3, 5)
        5
        """
        then(function(*given))

    def shared(
        self, function: Callable[..., Any], given: Sequence[tuple[Any, ...]]
    ) -> Iterator[Any]:
        """Do pieces of work that are needed now, some of them aside.

        Parameters
        ----------
        function : callable
            Pure, of a module: it may run in another process.
        given : sequence of tuple
            Its arguments, one tuple a piece.

        Yields
        ------
        object
            The results in the order of the pieces, whoever did them.

        Examples
        --------
        >>> list(Aside().shared(max, [(3, 5), (2, 1)]))
        [5, 2]
        """
        return (function(*each) for each in given)

    def finish(self) -> None:
        """Wait for all work that is still going on."""


HERE = Aside()


class SideProcess(Aside):
    """Hands work to one other process, in the order it is asked for.

    A process of its own, not a thread: much of the work is many short steps, which threads of one
    process would take turns at.
    """

    def __init__(self) -> None:
        """Start the process; it ends with this one, whichever way this one ends."""
        context = multiprocessing.get_context("spawn")  # a fork would copy the database's locks
        self._pipe, there = context.Pipe()
        self._process = context.Process(target=serve, args=(there,), daemon=True)
        self._process.start()
        there.close()  # so that the end of the process is seen as the end of the pipe
        self._line = ThreadPoolExecutor(1)
        self._waiting: list[tuple[Then, _Task]] = []

    def run(self, then: Then, function: Callable[..., Any], *given: Any) -> None:
        """Put work in line; its result is handed on by `finish`."""
        self._waiting.append((then, self._put(function, given)))

    def shared(
        self, function: Callable[..., Any], given: Sequence[tuple[Any, ...]]
    ) -> Iterator[Any]:
        """Do the first pieces here and the last ones there, until both meet.

        Notes
        -----
        The pieces go before work that has not begun there: that one is not waited for yet.
        """
        later = [task for _, task in self._waiting if task.future.cancel()]
        pieces = [self._put(function, each) for each in reversed(given)][::-1]
        for task in later:
            self._submit(task)
        return (pieces.pop(0).result() for _ in given)  # kept no longer than needed: each is large

    def finish(self) -> None:
        """Do what has not begun there, wait for the rest, and hand all results on in order."""
        done = [(then, task.result()) for then, task in reversed(self._waiting)]
        self._waiting.clear()
        for then, result in reversed(done):
            then(result)

    def _put(self, function: Callable[..., Any], given: tuple[Any, ...]) -> _Task:
        task = _Task(function, given)
        self._submit(task)
        return task

    def _submit(self, task: _Task) -> None:
        task.future = self._line.submit(self._ask, task.function, task.given)

    def _ask(self, function: Callable[..., Any], given: tuple[Any, ...]) -> tuple[bool, Any]:
        self._pipe.send((function, given))
        answer: tuple[bool, Any] = self._pipe.recv()
        return answer

    def close(self) -> None:
        """End the process, its work done or not."""
        self._process.terminate()
        self._line.shutdown(cancel_futures=True)
        self._process.join()
        self._pipe.close()


@dataclass
class _Task:
    """Work in line for the other process."""

    function: Callable[..., Any]
    given: tuple[Any, ...]
    future: Future[tuple[bool, Any]] = field(init=False)

    def result(self) -> Any:
        """Return its result; the work is done here where it has not begun there.

        Notes
        -----
        Where the process was ended from outside, for want of memory say, it is done here as well.
        """
        if self.future.cancel():
            return self.function(*self.given)
        try:
            is_done, result = self.future.result()
        except (EOFError, OSError):
            return self.function(*self.given)
        if not is_done:
            raise result
        return result


def serve(pipe: Connection) -> None:
    """Do the work that comes through a pipe, until it closes: what the other process runs.

    Parameters
    ----------
    pipe : Connection
        Gets (function, arguments); gives (True, result) or (False, exception).
    """
    while True:
        try:
            function, given = pipe.recv()
        except EOFError:
            return
        try:
            answer = (True, function(*given))
        except Exception as exc:  # handed to the one who asked
            answer = (False, exc)
        try:
            pipe.send(answer)
        except OSError:  # nobody is left to take it
            return


@contextmanager
def working_aside(*, is_large: bool) -> Iterator[Aside]:
    """Give a place for work aside: another process for a large fleet, else this one.

    Parameters
    ----------
    is_large : bool
        Whether the work outweighs the second or so that a process takes to start.

    Yields
    ------
    Aside
        Call its `finish` before the results are needed.
    """
    if not is_large:
        yield Aside()
        return
    aside = SideProcess()
    try:
        yield aside
    finally:
        aside.close()
