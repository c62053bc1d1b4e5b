"""Work that goes wrong, for tests with real worker processes; it needs nothing of ours to start."""

import os
import signal
import time
from pathlib import Path


def square(number):
    return number * number


def die_once(task):
    """End the worker the first time that a task is met; the folder remembers."""
    number, folder = task
    mark = Path(folder) / f"{number}"
    if number == 3 and not mark.exists():
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return number * number


def die(_):
    os.kill(os.getpid(), signal.SIGKILL)


def dawdle(task):
    """Take longer the earlier the task."""
    time.sleep(0.05 * (5 - task))
    return task


def hang(task):
    time.sleep(60 if task == 1 else 0)
    return task


def fail(task):
    raise ValueError(f"task {task}")
