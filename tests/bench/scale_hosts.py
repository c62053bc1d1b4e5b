"""A fleet on a cluster whose workers are hosts of their own, and what happens when they are lost.

Run as root: ``python -m tests.bench.scale_hosts``. Each worker runs in a network namespace of its
own, joined to the scheduler's by a bridge; every connection is TLS. Printed for each fault: how the
run ended, after how long, and whether its results are those of one process, bit for bit. Needs
``ip`` and ``openssl``; makes and removes namespaces whose names begin with ``blfleet``.
"""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from etl.errors import BraidlifeError
from etl.scale.cluster import Cluster
from etl.scale.executors import Here
from etl.scale.partitions import FleetList, read_list
from etl.scale.work import FleetResults, fleet_results
from etl.settings import Settings
from tests.scale.hosts import Hosts, listens_at, make_certificates
from tests.scale.world import World, write_world

WORLD = World(n_sites=3, n_classes=4, n_constructions=3, places_a_partition=300)
SETTINGS = Settings(n_draws=40)
BRIDGE, NAME = "blfleet", "blfleet{}"
OWN, HOST = "10.231.77.1", "10.231.77.{}"
N_HOSTS = 3


def ip(*words: str) -> None:
    """Run one command of the network."""
    subprocess.run(["ip", *words], check=True, capture_output=True, text=True)


@contextlib.contextmanager
def network() -> Iterator[list[list[str]]]:
    """Give the prefix of a command for each host."""
    with contextlib.ExitStack() as undo:
        def gone(*words: str) -> None:
            undo.callback(subprocess.run, ["ip", *words], check=False, capture_output=True)

        gone("link", "del", BRIDGE)
        ip("link", "add", BRIDGE, "type", "bridge")
        ip("addr", "add", f"{OWN}/24", "dev", BRIDGE)
        ip("link", "set", BRIDGE, "up")
        for number in range(N_HOSTS):
            name = NAME.format(number)
            gone("netns", "del", name)
            ip("netns", "add", name)
            ip("link", "add", f"{name}v", "type", "veth", "peer", "name", "eth0", "netns", name)
            ip("link", "set", f"{name}v", "master", BRIDGE, "up")
            for words in (("addr", "add", f"{HOST.format(number + 2)}/24", "dev", "eth0"),
                          ("link", "set", "eth0", "up"), ("link", "set", "lo", "up")):
                ip("-n", name, *words)
        yield [["ip", "netns", "exec", NAME.format(number)] for number in range(N_HOSTS)]


class Interrupted:
    """Does something once the first results of the forecast are there."""

    def __init__(self, cluster: Cluster, act: Callable[[], object]) -> None:
        self._cluster, self._act = cluster, act

    def map(self, function, tasks):
        """Yield results in order."""
        for number, result in enumerate(self._cluster.map(function, tasks)):
            if function.__name__ == "forecast" and number == 1:
                self._act()
            yield result

    def close(self) -> None:
        """Leave the cluster."""
        self._cluster.close()


def kill(process: subprocess.Popen[str]) -> Callable[[], object]:
    """Return what ends a process at once."""
    return process.kill


def stop_for(process: subprocess.Popen[str], seconds: float) -> Callable[[], object]:
    """Return what makes a worker stand still for a while."""
    def act() -> None:
        process.send_signal(signal.SIGSTOP)
        threading.Timer(seconds, process.send_signal, [signal.SIGCONT]).start()
    return act


def cut(number: int) -> Callable[[], object]:
    """Return what cuts the cable of a host."""
    return lambda: ip("link", "set", f"{NAME.format(number)}v", "down")


def same(one: FleetResults, other: FleetResults) -> bool:
    """Whether results are equal to the last bit."""
    return (one.law.draws.log_life.tobytes() == other.law.draws.log_life.tobytes()
            and all(frame.equals(other.tables[name]) for name, frame in one.tables.items()))


def tried(words: str, listed: FleetList, expected: FleetResults, tls: Path,
          prefixes: list[list[str]], fault: Callable[[Hosts], Callable[[], object]],
          patience: float = 40.0) -> None:
    """Run one case on a cluster of its own and print how it ended."""
    hosts = Hosts(tls, OWN)
    try:
        for number, prefix in enumerate(prefixes):
            hosts.add_worker(HOST.format(number + 2), prefix)
        cluster = Cluster(hosts.address, tls, patience_seconds=patience)
        began = time.perf_counter()
        try:
            found = fleet_results(listed, Interrupted(cluster, fault(hosts)), SETTINGS)
            end = "finished, " + ("the same bits" if same(found, expected) else "OTHER RESULTS")
        except BraidlifeError as exc:
            end = f"refused: {exc}"
        print(f"{words:44} {time.perf_counter() - began:6.1f} s  {end}", flush=True)
        cluster.close()
    finally:
        for number in range(N_HOSTS):
            ip("link", "set", f"{NAME.format(number)}v", "up")
        hosts.close()


def listening(hosts: Hosts) -> Callable[[], object]:
    """Print where the scheduler and the first worker listen, and do no harm."""
    def act() -> None:
        found = subprocess.run(["ip", "netns", "exec", NAME.format(0), "ss", "-Hltn"], check=False,
                               capture_output=True, text=True).stdout.splitlines()
        print(f"the scheduler listens at {', '.join(listens_at(hosts.scheduler.pid))}; on the host "
              f"of a worker, {', '.join(sorted(line.split()[3] for line in found))}", flush=True)
    return act


def main() -> None:
    """Try every fault."""
    if os.geteuid() != 0:
        sys.exit("network namespaces need root; run as root, or on a machine that permits them.")
    with tempfile.TemporaryDirectory() as folder, network() as prefixes:
        write_world(WORLD, Path(folder) / "parts")
        tls = make_certificates(
            Path(folder) / "tls", [OWN, *(HOST.format(number + 2) for number in range(N_HOSTS))])
        listed = read_list(str(Path(folder) / "parts"))
        began = time.perf_counter()
        expected = fleet_results(listed, Here(), SETTINGS)
        print(f"{'one process, no cluster':44} {time.perf_counter() - began:6.1f} s", flush=True)
        for words, fault in (
            ("three hosts, no fault", listening),
            ("a worker killed", lambda hosts: kill(hosts.workers[0])),
            ("two of three workers killed", lambda hosts: lambda: [
                process.kill() for process in hosts.workers[:2]]),
            ("a worker stands still for 8 s", lambda hosts: stop_for(hosts.workers[0], 8.0)),
            ("the cable of a host cut for good", lambda _: cut(0)),
            ("the scheduler killed", lambda hosts: kill(hosts.scheduler)),
            ("all workers killed", lambda hosts: lambda: [
                process.kill() for process in hosts.workers]),
        ):
            tried(words, listed, expected, tls, prefixes, fault)


if __name__ == "__main__":
    main()
