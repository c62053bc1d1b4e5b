"""A scheduler and workers as real processes, with certificates of their own."""

from __future__ import annotations

import contextlib
import os
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator, Sequence
from pathlib import Path

import psutil

ROOT = Path(__file__).resolve().parents[2]


def make_certificates(folder: Path, hosts: Sequence[str] = ("127.0.0.1",)) -> Path:
    """Make an authority and one certificate that it signed; openssl does the work."""
    folder.mkdir(parents=True, exist_ok=True)
    names = ",".join(f"IP:{host}" for host in hosts)
    (folder / "names.cnf").write_text(f"subjectAltName={names}\n")
    for command in (
        ["req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes",
         "-days", "2", "-subj", "/CN=fleet authority", "-keyout", "ca.key", "-out", "ca.pem"],
        ["req", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-subj",
         "/CN=fleet worker", "-keyout", "key.pem", "-out", "request.pem"],
        ["x509", "-req", "-in", "request.pem", "-CA", "ca.pem", "-CAkey", "ca.key",
         "-CAcreateserial", "-days", "2", "-extfile", "names.cnf", "-out", "cert.pem"],
    ):
        subprocess.run(["openssl", *command], cwd=folder, check=True, capture_output=True)
    return folder


class Hosts:
    """Processes of a cluster; each may run in a network namespace of its own."""

    def __init__(self, tls: Path, host: str = "127.0.0.1", port: int = 0) -> None:
        self._tls, self._host = tls, host
        self.workers: list[subprocess.Popen[str]] = []
        self.scheduler = self._start(
            "dask_scheduler", None, "--host", f"tls://{host}", "--port", str(port))
        self.address = self._said(self.scheduler, r"Scheduler at:\s+(tls://\S+)")

    def add_worker(
        self, host: str = "127.0.0.1", prefix: Sequence[str] = ()
    ) -> subprocess.Popen[str]:
        """Start one worker that listens at an address, and wait until it has joined."""
        worker = self._start("dask_worker", prefix, self.address, "--host", f"tls://{host}",
                             "--nthreads", "1", "--no-nanny", "--memory-limit", "0",
                             "--death-timeout", "20")
        self.workers.append(worker)
        self._said(worker, r"(Registered to)")
        return worker

    def _start(self, what: str, prefix: Sequence[str] | None, *options: str
               ) -> subprocess.Popen[str]:
        ca, cert, key = (str(self._tls / name) for name in ("ca.pem", "cert.pem", "key.pem"))
        return subprocess.Popen(
            [*(prefix or ()), sys.executable, "-m", f"distributed.cli.{what}", *options,
             "--no-dashboard", "--dashboard-address", "127.0.0.1:0",
             "--tls-ca-file", ca, "--tls-cert", cert, "--tls-key", key],
            stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, cwd=ROOT,
            env=os.environ | {"OMP_NUM_THREADS": "1", "PYTHONPATH": str(ROOT),
                              "DASK_DISTRIBUTED__COMM__TIMEOUTS__CONNECT": "5s"})

    def _said(self, process: subprocess.Popen[str], pattern: str) -> str:
        """Wait for words of a process, then go on reading so that it never waits to be read."""
        seen = []
        for line in process.stderr:
            seen.append(line)
            if found := re.search(pattern, line):
                threading.Thread(target=process.stderr.read, daemon=True).start()
                return found[1]
        raise RuntimeError("".join(seen[-20:]))

    def close(self) -> None:
        """End what still runs."""
        for process in (*self.workers, self.scheduler):
            with contextlib.suppress(ProcessLookupError):
                process.send_signal(signal.SIGCONT)
                process.kill()
            process.wait()
            process.stderr.close()


def listens_at(pid: int) -> list[str]:
    """Return the addresses at which a process takes connections."""
    found = {connection.laddr for connection in psutil.Process(pid).net_connections("tcp")
             if connection.status == psutil.CONN_LISTEN}
    return sorted(f"{address.ip}:{address.port}" for address in found)


@contextlib.contextmanager
def hosts(tls: Path, n_workers: int) -> Iterator[Hosts]:
    """Give a scheduler with workers on loopback."""
    found = Hosts(tls)
    try:
        for _ in range(n_workers):
            found.add_worker()
        yield found
    finally:
        found.close()
