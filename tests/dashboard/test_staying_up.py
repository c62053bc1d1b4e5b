"""The web process: what watchers ask, what its log says and hides, and how it stops."""

import http.client
import json
import logging
import os
import signal
import subprocess
import sys
import textwrap
import threading
import time
from pathlib import Path

import pytest

from dashboard import serve
from dashboard.app import create_app
from dashboard.logs import Lines
from dashboard.queries import bounds, opened
from tests.dashboard.edition_maker import make_edition

ROOT = Path(__file__).resolve().parents[2]
SERVER = """
    import sys, time
    from pathlib import Path
    from dashboard import serve
    from etl.cli import main

    made = serve.create_app

    def with_more(*args, **more):
        app = made(*args, **more)

        @app.server.get("/slow")
        def slow():
            time.sleep(2)
            return "slow but whole"

        @app.server.get("/boom/<name>")
        def boom(name):
            raise RuntimeError(f"no {name} in /srv/store")

        @app.server.get("/half")
        def half():
            def pieces():
                yield "a"
                raise RuntimeError("no R. Moss in /srv/store")
            return pieces()
        return app

    serve.create_app = with_more
    sys.argv = ["braidlife", "serve", "--store", sys.argv[1], "--port", "0", "--log-json",
                "--processes", "2"]
    main()
"""


def ask(port, path):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    try:
        connection.request("GET", path)
        answer = connection.getresponse()
        return answer.status, answer.read().decode()
    except http.client.IncompleteRead as exc:
        return 0, exc.partial.decode()
    finally:
        connection.close()


def children(pid):
    return set(map(int, Path(f"/proc/{pid}/task/{pid}/children").read_text().split()))


@pytest.fixture(scope="module")
def stopped(stores):
    """A server that was asked this and that and then told to stop; what came of it."""
    process = subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(SERVER), str(stores["full"])], cwd=ROOT, text=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, env={**os.environ, "PYTHONPATH": "."})
    came: dict = {"first": process.stdout.readline()}
    port = int(came["first"].split(":")[2].split("/")[0])
    for path in ("/health", "/ready", "/places/HD-1%20discharge?text=R.%20Moss", "/boom/Moss",
                 "/half"):
        came[path] = ask(port, path)
    came["children"] = children(process.pid)
    os.kill(min(came["children"]), signal.SIGKILL)
    until = time.monotonic() + 20
    while len(now := children(process.pid)) < 2 or now == came["children"]:
        assert time.monotonic() < until
        time.sleep(0.05)
    came["children after"] = now
    came["after kill"] = ask(port, "/health")
    idle = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    idle.request("GET", "/health")
    idle.getresponse().read()
    begun = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    begun.putrequest("POST", "/_dash-update-component")
    begun.putheader("Content-Type", "application/json")
    begun.putheader("Content-Length", "2")
    begun.endheaders(b"{")
    slow = threading.Thread(target=lambda: came.update(slow=ask(port, "/slow")))
    slow.start()
    silent = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    silent.connect()  # and asks once the server has been told to stop
    time.sleep(0.5)
    process.send_signal(signal.SIGTERM)
    time.sleep(0.5)
    begun.send(b"}")
    silent.request("GET", "/health")
    came["silent"] = silent.getresponse().status
    came["begun"] = begun.getresponse().status
    with pytest.raises(OSError):  # noqa: PT011 - refused or reset, as the system likes
        ask(port, "/health")
    slow.join(20)
    came["status"] = process.wait(20)
    came["lines"] = process.stderr.read().splitlines()
    process.stdout.close()
    process.stderr.close()
    for connection in (idle, begun, silent):
        connection.close()
    return came


def test_what_was_begun_is_finished_and_the_status_is_0(stopped):
    assert stopped["slow"] == (200, "slow but whole")
    assert stopped["begun"] == 400  # an answer: the question itself was none
    assert stopped["silent"] == 200
    assert stopped["status"] == 0


def test_watchers_are_answered(stopped):
    assert stopped["/health"] == (200, '{"status":"ok"}\n')
    assert stopped["/ready"] == (200, '{"edition":1}\n')


def test_the_log_is_json_lines_with_kinds_of_addresses_alone(stopped):
    told = [json.loads(line) for line in stopped["lines"]]
    assert [line["event"] for line in told][0] == "serving"
    assert told[-1]["event"] == "ended"
    stops = [line["requests_cut_off"] for line in told if line["event"] == "stopped"]
    assert stops == [0, 0]  # one a process
    answered = [line for line in told if line["event"] == "answered"]
    assert {"/health", "/ready", "/slow", "/boom/<name>"} <= {line["route"] for line in answered}
    assert all(set(line) == {"at", "level", "logger", "event", "method", "route", "status", "ms"}
               for line in answered)


def test_the_log_holds_no_name_no_path_and_no_trace(stopped, stores):
    text = "\n".join(stopped["lines"])
    for hidden in ("Moss", "HD-1", "/srv", str(stores["full"]), "Traceback", "File ", str(ROOT)):
        assert hidden not in text, hidden
    assert '"event": "request failed: RuntimeError"' in text
    assert '"fault": "RuntimeError"' in text  # while the answer was being sent
    assert stopped["/boom/Moss"][0] == 500
    assert "Moss" not in stopped["/boom/Moss"][1]
    assert stopped["/half"][0] != 200 or stopped["/half"][1] == "a"


def test_a_process_that_is_killed_is_replaced(stopped):
    assert stopped["after kill"] == (200, '{"status":"ok"}\n')
    assert len(stopped["children"]) == len(stopped["children after"]) == 2
    assert len(stopped["children"] & stopped["children after"]) == 1
    assert any("died and is started anew" in line for line in stopped["lines"])


LEFT = r"""
    import os, time
    from dashboard import processes

    def serve(is_left):
        os.write(1, f"{os.getpid()}\n".encode())
        while not is_left():
            time.sleep(0.05)

    processes.run(serve, 2)
"""


def test_a_killed_parent_leaves_no_process_behind():
    parent = subprocess.Popen([sys.executable, "-c", textwrap.dedent(LEFT)], cwd=ROOT, text=True,
                              stdout=subprocess.PIPE)
    pids = [int(parent.stdout.readline()) for _ in range(2)]
    assert len(set(pids)) == 2
    parent.kill()
    parent.communicate()  # ends when nobody holds its output any more: the two have ended
    assert not [pid for pid in pids if Path(f"/proc/{pid}/cmdline").exists()
                and Path(f"/proc/{pid}/cmdline").read_bytes()]


@pytest.mark.parametrize(("is_json", "wanted"), [
    (False, "error waitress: Exception while serving %s fault=ValueError"),
    (True, '"event": "Exception while serving %s", "fault": "ValueError"')])
def test_of_a_library_only_the_fixed_words_are_kept(is_json, wanted):
    try:
        raise ValueError("/srv/secret")
    except ValueError:
        record = logging.LogRecord("waitress", logging.ERROR, "/srv/x.py", 1,
                                   "Exception while serving %s", ("/places/secret",),
                                   sys.exc_info())
    line = Lines(is_json).format(record)
    assert wanted in line
    assert "secret" not in line
    assert "\n" not in line


def test_callbacks_are_in_place_before_anybody_asks(stores, monkeypatch):
    made = []
    monkeypatch.setattr(serve, "create_app",
                        lambda *args, **more: made.append(create_app(*args, **more)) or made[0])
    serve._app(stores["full"], "127.0.0.1")
    assert any(key.startswith(".._pages_content.children") for key in made[0].callback_map)


def test_nothing_of_the_store_is_open_when_processes_split_off(stores, monkeypatch):
    """A thread or a lock of the database, or of its watch, copied in the midst of a question would
    hold up every request of the new process for ever: it was seen to.
    """
    asked, connect = [], opened.duckdb.connect
    monkeypatch.setattr(opened.duckdb, "connect",
                        lambda *given, **more: asked.append(given) or connect(*given, **more))
    watch = bounds.Watch()
    monkeypatch.setattr(opened, "WATCH", watch)
    app = serve._app(stores["full"], "127.0.0.1")
    assert asked == []
    assert watch._thread is None
    assert app.test_client().get("/ready").get_json() == {"edition": 1}


@pytest.mark.parametrize("address", ["/health", "/healthz"])
def test_alive_without_a_store(tmp_path, address):
    client = create_app(tmp_path / "none").server.test_client()
    assert client.get(address).status_code == 200


@pytest.mark.parametrize("address", ["/ready", "/readyz"])
def test_ready_with_an_edition_only(tmp_path, address):
    client = create_app(tmp_path).server.test_client()
    assert client.get(address).status_code == 503
    assert str(tmp_path) not in client.get(address).get_data(as_text=True)
    make_edition(tmp_path, "empty")
    assert client.get(address).get_json() == {"edition": 1}


@pytest.mark.parametrize(("limits", "connections", "asked"), [
    ((1024, 1_048_576), 4000, 4200), ((1024, 2048), 1848, 2048), ((100, 100), 50, None),
    ((-1, -1), 4000, None), ((1_000_000, 1_000_000), 4000, None)])
def test_connections_are_what_the_system_allows(monkeypatch, limits, connections, asked):
    given = []
    monkeypatch.setattr(serve.resource, "getrlimit", lambda _: limits)
    monkeypatch.setattr(serve.resource, "setrlimit", lambda _, pair: given.append(pair[0]))
    assert serve._connections() == connections
    assert given == ([asked] if asked else [])
