"""Run loads in processes that can be killed: imports once, then one fork for each load.

Reads one JSON object a line: ``store``, ``logs`` (empty: build again), and optionally ``die_at``
(a moment), ``die_writing`` (milliseconds after the edition file appears), ``largest_file``
(bytes) and ``as_of``. Answers with a line of JSON: ``signal``, ``status``, ``said``, ``moments``.
A moment is ``"<name> <n>"``: the n-th time that something durable is about to happen, or that
the load says what it does next.
"""

from __future__ import annotations

import json
import os
import resource
import signal
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

from etl import run
from etl.errors import BraidlifeError


class Moments:
    """Counts what happens, and kills this process without mercy when the chosen moment comes."""

    def __init__(self, die_at: str | None) -> None:
        self.die_at = die_at
        self.counts: Counter[str] = Counter()
        self.passed: list[str] = []

    def passes(self, name: str) -> None:
        self.counts[name] += 1
        self.passed.append(f"{name} {self.counts[name]}")
        if self.passed[-1] == self.die_at:
            os.kill(os.getpid(), signal.SIGKILL)

    def watched(self, name: str, call: Callable[..., Any]) -> Callable[..., Any]:
        def passing(*args: Any, **kwargs: Any) -> Any:
            self.passes(name)
            return call(*args, **kwargs)
        return passing


def die_writing(store: Path, after_ms: float) -> None:
    """Kill this process while it writes the edition: no Python line of ours runs just then."""
    while not list(store.glob("editions/*.tmp")):
        time.sleep(0.0005)
    time.sleep(after_ms / 1000)
    os.kill(os.getpid(), signal.SIGKILL)


def load(order: dict[str, Any], report: Path) -> int:
    """Load as ordered and write what happened; return the exit status."""
    moments = Moments(order.get("die_at"))
    os.fsync = moments.watched("fsync", os.fsync)  # type: ignore[assignment]
    os.replace = moments.watched("replace", os.replace)  # type: ignore[assignment]
    if order.get("largest_file"):
        resource.setrlimit(resource.RLIMIT_FSIZE, (order["largest_file"], -1))
    if "die_writing" in order:
        threading.Thread(target=die_writing, daemon=True,
                         args=(Path(order["store"]), order["die_writing"])).start()
    said, status = "", 0
    logs = Path(order["logs"]) if order["logs"] else None
    try:
        said = run.load(logs, Path(order["store"]), as_of=order.get("as_of"),
                        say=lambda step: moments.passes(step.split()[0])).summary()
    except BraidlifeError as exc:
        said, status = str(exc), 2
    resource.setrlimit(resource.RLIMIT_FSIZE, (-1, -1))
    report.write_text(json.dumps({"said": said, "moments": moments.passed}), encoding="utf-8")
    return status


def main() -> None:
    """Answer orders until there are no more."""
    for line in sys.stdin:
        with tempfile.TemporaryDirectory() as folder:
            report = Path(folder) / "report"
            child = os.fork()
            if child == 0:
                status = 70  # anything unexpected
                try:
                    status = load(json.loads(line), report)
                finally:
                    os._exit(status)
            code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
            told = json.loads(report.read_text()) if report.exists() else {}
        answer = {"signal": max(-code, 0), "status": max(code, 0), **told}
        print(json.dumps(answer), flush=True)


if __name__ == "__main__":
    main()
