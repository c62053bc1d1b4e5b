"""Commands as a user types them, without the seconds that each start would take."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="session")
def braidlife():
    """Function that runs a command in a fork and returns status and words, as `subprocess.run`.

    The environment is the one that the first command of the test run found.
    """
    words = [sys.executable, "-m", "tests.cli.forker"]
    with subprocess.Popen(words, cwd=ROOT, text=True, stdin=subprocess.PIPE,
                          stdout=subprocess.PIPE, stderr=subprocess.DEVNULL) as process:
        def run(*args):
            print(json.dumps([str(arg) for arg in args]), file=process.stdin, flush=True)
            return subprocess.CompletedProcess(args, **json.loads(process.stdout.readline()))

        yield run
        process.stdin.close()


@pytest.fixture(scope="session")
def started():
    """Function that runs a command in a process of its own, as a shell does."""
    def run(*args):
        return subprocess.run([sys.executable, "-m", "etl", *map(str, args)], capture_output=True,
                              text=True, check=False, cwd=ROOT)

    return run
