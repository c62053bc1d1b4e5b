"""Where work is done: here, or in other processes of this machine. One verb: map."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from typing import Protocol, TypeVar

from etl import threads
from etl.errors import StoreError

Task = TypeVar("Task")
Result = TypeVar("Result")

PATIENCE_SECONDS = 1800.0
"""Without any result for so long, a worker is taken to hang."""
TRIES = 3
"""Times that work is begun again after a worker process ended, before giving up."""
NOTHING = "Nothing was published; what was published before is untouched."


class Executor(Protocol):
    """Does the same thing to many tasks."""

    def map(
        self, function: Callable[[Task], Result], tasks: Sequence[Task]
    ) -> Iterator[Result]:
        """Yield the result of each task, in the order of the tasks, each once.

        Parameters
        ----------
        function : callable
            Pure, of a module: other processes find it by its name.
        tasks : sequence

        Raises
        ------
        StoreError
            Workers were lost, or hang.
        """

    def close(self) -> None:
        """Let the workers go."""


class Here:
    """Does the work in this process, one task after the other."""

    def map(
        self, function: Callable[[Task], Result], tasks: Sequence[Task]
    ) -> Iterator[Result]:
        """Yield the result of each task; see `Executor`."""
        return map(function, tasks)

    def close(self) -> None:
        """Nobody is to be let go."""


class Processes:
    """Does the work in processes of this machine, one thread each; they end with `close`.

    Parameters
    ----------
    n_workers : int
    patience_seconds : float
        Without any result for so long, the work is given up.
    """

    def __init__(self, n_workers: int, patience_seconds: float = PATIENCE_SECONDS) -> None:
        """Keep the figures; processes start with the work."""
        self._n_workers, self._patience = n_workers, patience_seconds
        self._pool: ProcessPoolExecutor | None = None

    def map(
        self, function: Callable[[Task], Result], tasks: Sequence[Task]
    ) -> Iterator[Result]:
        """Yield the result of each task; see `Executor`.

        Notes
        -----
        Where a process ends before its time, for want of memory say, what was not done yet is
        begun again in new ones; results that were there are kept.
        """
        done: dict[int, Result] = {}
        given = 0
        for _try in range(TRIES):
            left = [number for number in range(given, len(tasks)) if number not in done]
            try:
                for _ in self._finished(function, tasks, left, done):
                    while given in done:
                        yield done.pop(given)
                        given += 1
                return
            except BrokenProcessPool:
                self.close()
            except BaseException:
                self.close()
                raise
        raise StoreError(
            f"worker processes ended {TRIES} times before their work was done, with "
            f"{len(tasks) - given} of {len(tasks)} tasks left; they may lack memory. "
            f"{NOTHING} Use fewer workers.")

    def _finished(
        self, function: Callable[[Task], Result], tasks: Sequence[Task], left: list[int],
        done: dict[int, Result],
    ) -> Iterator[None]:
        """Put results in place as they come, and stop for a moment after each few."""
        with _one_thread():  # processes start as work is handed over
            pool = self._pool = self._pool or ProcessPoolExecutor(
                self._n_workers, multiprocessing.get_context("spawn"))
            futures = {pool.submit(function, tasks[number]): number for number in left}
        waiting = set(futures)
        while waiting:
            ready, waiting = wait(waiting, self._patience, FIRST_COMPLETED)
            if not ready:
                raise hanging(self._patience, len(waiting))
            broken = None
            for future in ready:
                try:
                    done[futures[future]] = future.result()
                except BrokenProcessPool as exc:
                    broken = exc  # only after the results that came through
            if broken:
                raise broken
            yield

    def close(self) -> None:
        """End the processes, whatever they do."""
        pool, self._pool = self._pool, None
        if pool is None:
            return
        processes = list((getattr(pool, "_processes", None) or {}).values())
        pool.shutdown(wait=False, cancel_futures=True)
        for process in processes:  # one that hangs would keep this one from ending
            process.kill()
        for process in processes:
            process.join()


def hanging(seconds: float, n_left: int) -> StoreError:
    """Return the error of workers that give no result any more."""
    return StoreError(f"no worker has given a result for {seconds:g} seconds, with {n_left} "
                      f"tasks left. {NOTHING} Look whether the workers still run, and start "
                      "again.")


@contextlib.contextmanager
def _one_thread() -> Iterator[None]:
    """Let processes that start now use one thread each: libraries read this as they start."""
    before = {name: os.environ.get(name) for name in threads.NAMES}
    os.environ.update(dict.fromkeys(threads.NAMES, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value
