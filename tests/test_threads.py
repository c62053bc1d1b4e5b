"""Libraries for linear algebra run in one thread, unless the environment asks for more."""

import os
import subprocess
import sys

from etl.threads import NAMES

ASK = f"import os, etl; print([os.environ.get(name) for name in {NAMES!r}])"


def asked(**given):
    environment = {name: value for name, value in os.environ.items() if name not in NAMES} | given
    return subprocess.run([sys.executable, "-c", ASK], env=environment, capture_output=True,
                          text=True, check=True).stdout.strip()


def test_one_thread_where_nothing_was_asked_for():
    assert asked() == str(["1", "1", "1"])


def test_what_the_environment_asks_for_stands():
    assert asked(OMP_NUM_THREADS="4") == str(["4", "1", "1"])
