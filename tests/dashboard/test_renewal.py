"""New software takes the place of the old one while real visitors ask: nobody is refused."""

import http.client
import os
import signal
import subprocess
import sys
import textwrap
import threading
import time
from collections import Counter
from pathlib import Path

import pytest

from dashboard import renewal

ROOT = Path(__file__).resolve().parents[2]
SERVER = """
    import sys, time
    from pathlib import Path
    from dashboard import serve
    from etl.cli import main

    made, version = serve.create_app, Path(sys.argv[2]).read_text()

    def with_more(*args, **more):
        app = made(*args, **more)
        app.server.add_url_rule("/version", "version", lambda: version)
        app.server.add_url_rule("/slow", "slow", lambda: time.sleep(3) or version)
        return app

    serve.create_app = with_more
    sys.argv = ["braidlife", "serve", "--store", sys.argv[1], "--port", "0", "--processes", "2"]
    main()
"""


def ask(port, path):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    try:
        connection.request("GET", path)
        return connection.getresponse().read().decode()
    finally:
        connection.close()


def children(pid):
    return set(map(int, Path(f"/proc/{pid}/task/{pid}/children").read_text().split()))


def until(true, longest_s=90):
    end = time.monotonic() + longest_s
    while not true():
        assert time.monotonic() < end
        time.sleep(0.05)


def test_nobody_is_refused_while_new_software_takes_over(stores, tmp_path):
    version = tmp_path / "version"
    version.write_text("1")
    process = subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(SERVER), str(stores["full"]), str(version)],
        cwd=ROOT, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": "."})
    port = int(process.stdout.readline().split(":")[2].split("/")[0])
    seen, faults, over = Counter(), [], threading.Event()

    def visit():
        while not over.is_set():
            try:
                seen[ask(port, "/version")] += 1
            except (OSError, http.client.HTTPException) as exc:
                faults.append(repr(exc))
            time.sleep(0.02)

    slow: list[str] = []
    visitors = [threading.Thread(target=visit) for _ in range(4)]
    visitors.append(threading.Thread(target=lambda: slow.append(ask(port, "/slow"))))
    for each in visitors:
        each.start()
    until(lambda: seen["1"] > 20)
    first = children(process.pid)
    for number in ("2", "3"):
        version.write_text(number)
        process.send_signal(signal.SIGUSR1)
        until(lambda number=number: seen[number] > 20)
    until(lambda: len(children(process.pid)) == 2)  # the old ones have ended
    over.set()
    for each in visitors:
        each.join()
    assert ask(port, "/version") == "3"
    assert not first & children(process.pid)
    process.send_signal(signal.SIGTERM)
    said = process.communicate(timeout=60)[1]
    assert (faults, slow, process.returncode) == ([], ["1"], 0), said[-2000:]
    assert "Traceback" not in said


def test_software_that_cannot_be_loaded_is_not_tried(monkeypatch, caplog):
    assert renewal.is_sound()
    monkeypatch.setattr(renewal, "TRIAL", "import nothing_of_this_name")
    assert not renewal.is_sound()
    assert "the old one goes on" in caplog.text


def test_a_process_that_cannot_become_another_goes_on(monkeypatch, stores):
    def refused(*_):
        raise OSError("no such file")

    monkeypatch.setattr(renewal.os, "execv", refused)
    with renewal.socket.socket() as listener:
        with pytest.raises(OSError, match="no such file"):
            renewal.become_new(listener, {1, 2})
        assert not listener.get_inheritable()
    assert renewal.taken_over() is None
    assert renewal.relieved() == set()
