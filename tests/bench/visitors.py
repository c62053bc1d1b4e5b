"""A server of its own, and visitors that ask it what people ask, over plain sockets."""

from __future__ import annotations

import asyncio
import json
import os
import random
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import quote

from tests.dashboard.page_reader import Reader, _targets

ROOT = Path(__file__).resolve().parents[2]
CALLBACK = "/_dash-update-component"


@contextmanager
def server(store: Path, *more: str) -> Iterator[tuple[subprocess.Popen[str], int]]:
    """Yield the process of `braidlife serve` and its port; it is stopped at the end."""
    process = subprocess.Popen(
        [sys.executable, "-c", "from etl.cli import main; main()", "serve", "--store", str(store),
         "--port", "0", *more],
        cwd=ROOT, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": str(ROOT)})
    try:
        line = process.stdout.readline() if process.stdout else ""
        yield process, int(line.split(":")[2].split("/")[0])
    finally:
        if process.poll() is None:
            process.terminate()
        process.communicate(timeout=40)


def get(path: str) -> bytes:
    """Return a request of an address."""
    return f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nAccept-Encoding: gzip\r\n\r\n".encode()


def post(body: Any, path: str = CALLBACK, kind: str = "application/json") -> bytes:
    """Return a request that sends something; anything but bytes goes as JSON."""
    content = body if isinstance(body, bytes) else json.dumps(body).encode()
    return (f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: {kind}\r\n"
            f"Accept-Encoding: gzip\r\nContent-Length: {len(content)}\r\n\r\n").encode() + content


def body_of(callbacks: dict[str, Any], output: str, inputs: dict[str, Any]) -> dict[str, Any]:
    """Return what a browser sends to run the callback that writes an output."""
    key = next(k for k in callbacks if k == output or output + "." in k or k.startswith(output))
    listed = callbacks[key]
    return {"output": key, "outputs": _targets(key), "changedPropIds": list(inputs),
            "inputs": [{"id": i["id"], "property": i["property"],
                        "value": inputs.get(f"{i['id']}.{i['property']}")}
                       for i in listed["inputs"]],
            "state": [{"id": s["id"], "property": s["property"], "value": None}
                      for s in listed["state"]]}


def visits(store: Path) -> list[tuple[str, list[bytes]]]:
    """Return what people ask, by name, each in many variants: other places, other sorts."""
    reader = Reader(store)
    with reader.app.server.app_context():
        from dashboard.queries import edition

        places = [row["service_point"] for row in edition.ask(
            "select service_point from ranking order by rank, service_point")]
        kinds = edition.ask("select distinct application_class, construction from fits "
                            "where construction is not null order by all limit 100")
    callbacks = reader.app.callback_map

    def page(path: str, search: str = "") -> bytes:
        return post(body_of(callbacks, "_pages_content.children", {
            "_pages_location.pathname": path, "_pages_location.search": search}))

    def grid(number: int) -> bytes:
        sorts = ("expected_cost", "relative_rate", "rank")
        return post(body_of(callbacks, "..places-grid.getRowsResponse", {
            "places-grid.getRowsRequest": {
                "startRow": 25 * (number % 8), "endRow": 25 * (number % 8) + 25,
                "sortModel": [{"colId": sorts[number % 3], "sort": "desc"}],
                "filterModel": {"filter_text": {"filter": places[number][:3]}}}}))

    return [
        ("the shell", [get("/")]),
        ("This month", [page("/")]),
        ("Places", [page("/places"), page("/places", "?hazard=hot")]),
        ("rows of Places", [grid(number) for number in range(0, len(places), 7)]),
        ("One place", [page("/places/" + quote(name, safe="")) for name in places[:400]]),
        ("Lives", [page("/lives")]),
        ("one kind", [page("/lives/" + quote(k["application_class"], safe="") + "/"
                           + quote(k["construction"], safe="")) for k in kinds]),
        ("search", [post(body_of(callbacks, "shell-search.data", {
            "shell-search.searchValue": name[:3]})) for name in places[::11]]),
        ("Spares", [page("/spares")]),
    ]


@dataclass
class Told:
    """What came of requests: how long each took, ms, and the status or the fault of each."""

    ms: list[float] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)

    def add(self, began: float, status: int | str, words: bytes = b"") -> None:
        """Note one answer."""
        self.ms.append(1000 * (time.perf_counter() - began))
        if status != 200 or b"Traceback" in words:
            self.faults.append(f"{status} {words[:60]!r}" if words else str(status))

    def share(self, part: float) -> float:
        """Return the time within which a share of the requests was answered, ms."""
        times = sorted(self.ms)
        return times[min(len(times) - 1, int(part * len(times)))] if times else 0.0


class Visitors:
    """Connections that are kept open and used again, as browsers do."""

    def __init__(self, port: int) -> None:
        """Start with none."""
        self._port = port
        self._idle: list[tuple[asyncio.StreamReader, asyncio.StreamWriter]] = []

    async def ask(self, request: bytes) -> tuple[int, bytes]:
        """Send a request and return status and body."""
        reader, writer = self._idle.pop() if self._idle else await asyncio.open_connection(
            "127.0.0.1", self._port, limit=1 << 22)
        try:
            writer.write(request)
            head = (await reader.readuntil(b"\r\n\r\n")).lower()
            if b"content-length: " in head:
                size = int(head.split(b"content-length: ")[1].split(b"\r\n")[0])
                body = await reader.readexactly(size)
            elif b"chunked" in head:
                body = await _chunks(reader)
            else:
                body = b""
        except BaseException:
            writer.close()
            raise
        if b"connection: close" in head:
            writer.close()
        else:
            self._idle.append((reader, writer))
        return int(head.split(b" ", 2)[1]), body

    async def close(self) -> None:
        """Close all of them."""
        for _, writer in self._idle:
            writer.close()


async def _chunks(reader: asyncio.StreamReader) -> bytes:
    body = b""
    while size := int((await reader.readline()).strip() or b"0", 16):
        body += (await reader.readexactly(size + 2))[:-2]
    await reader.readline()
    return body


def drawn(asked: list[tuple[str, list[bytes]]], seed: int) -> Iterator[bytes]:
    """Yield requests for ever, each kind as often as the others."""
    chance = random.Random(seed)
    while True:
        yield chance.choice(chance.choice(asked)[1])
