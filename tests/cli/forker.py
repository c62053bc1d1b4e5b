"""Run commands as ``python -m etl`` does, each in a fork of one process that has imported it.

Reads one JSON list of words a line, answers with a JSON line: ``returncode``, ``stdout``,
``stderr``. Nothing is imported beforehand that the command line does not import itself, so that a
fork begins where a process of its own would begin; only the seconds of the imports are saved.
"""

from __future__ import annotations

import importlib
import json
import os
import runpy
import signal
import sys
import tempfile
import traceback
from pathlib import Path

importlib.import_module("etl.cli")  # once for all forks
LONGEST_S = 600


def run(words: list[str]) -> int:
    """Run the command line as the main module; return its exit status."""
    sys.argv = ["etl", *words]
    try:
        runpy.run_module("etl", run_name="__main__", alter_sys=True)
    except SystemExit as exc:
        if isinstance(exc.code, str):
            print(exc.code, file=sys.stderr)
        return exc.code if isinstance(exc.code, int) else int(exc.code is not None)
    except BaseException:
        traceback.print_exc()
        return 1
    return 0


def fork(words: list[str], out: Path, err: Path) -> int:
    """Run a command in a fork that writes to two files; return its exit status."""
    child = os.fork()
    if child == 0:
        status = 70  # anything unexpected
        signal.alarm(LONGEST_S)  # a command that hangs ends as killed
        try:
            for number, (path, way) in enumerate((
                    (Path(os.devnull), os.O_RDONLY), (out, os.O_WRONLY | os.O_CREAT),
                    (err, os.O_WRONLY | os.O_CREAT))):
                os.dup2(os.open(path, way, 0o600), number)
            status = run(words)
            sys.stdout.flush()
            sys.stderr.flush()
        finally:
            os._exit(status)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def main() -> None:
    """Answer orders until there are no more."""
    for line in sys.stdin:
        with tempfile.TemporaryDirectory() as folder:
            out, err = Path(folder) / "out", Path(folder) / "err"
            status = fork(json.loads(line), out, err)
            said = {"returncode": status, "stdout": out.read_text(), "stderr": err.read_text()}
        print(json.dumps(said), flush=True)


if __name__ == "__main__":
    main()
