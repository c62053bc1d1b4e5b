"""The demo serves its pages at once and makes its track record beside them."""

import subprocess
import sys
import time

import pytest
from typer.testing import CliRunner

from etl import run
from etl.cli import app
from etl.errors import StoreError
from etl.outcome import Outcome
from etl.track_aside import SAID, start_track_record, track_record_progress


@pytest.mark.parametrize(("options", "wanted"), [([], ["track", "serve"]), (["--no-serve"], [])])
def test_the_track_record_of_the_demo_is_made_beside_its_pages(
    options, wanted, tmp_path, monkeypatch
):
    done = []
    monkeypatch.setattr(run, "demo", lambda *_: Outcome(1, "2026-10-31", 1, 0, (), *[0] * 6))
    monkeypatch.setattr(run, "start_track_record", lambda _: done.append("track"))
    monkeypatch.setattr(run, "serve", lambda *_: done.append("serve"))
    result = CliRunner().invoke(app, ["demo", "--store", str(tmp_path), *options])
    assert result.exit_code == 0, result.output
    assert done == wanted


def test_it_loads_with_the_option_in_a_process_of_its_own(tmp_path, monkeypatch):
    called = []

    class Process:
        def __init__(self, words, **_):
            called.append(words)

        def wait(self):
            return 0

    monkeypatch.setattr(subprocess, "Popen", Process)
    start_track_record(tmp_path)
    assert called[0][1:] == ["-m", "etl", "load", "--track-record", "--store", str(tmp_path)]


def test_its_progress_is_known_until_its_end(tmp_path, monkeypatch):
    assert track_record_progress(tmp_path) is None  # none was ever started
    told = "import sys; print('reading', file=sys.stderr); " \
        "print('forecasting from March 2025 (as known then), 5 of 24', file=sys.stderr, " \
        "flush=True); sys.stdin.read()"
    started, real = [], subprocess.Popen

    def popen(_, **given):
        started.append(real([sys.executable, "-c", told], **given | {"stdin": subprocess.PIPE}))
        return started[-1]

    monkeypatch.setattr(subprocess, "Popen", popen)
    start_track_record(tmp_path)
    for _ in range(200):
        now = track_record_progress(tmp_path)
        if now != ("", 0, 0):
            break
        time.sleep(0.05)
    assert now == ("March 2025", 5, 24)
    start_track_record(tmp_path)  # one is at work: no second one, and its words stay
    assert len(started) == 1
    assert "5 of 24" in (tmp_path / SAID).read_text()
    started[0].communicate()
    assert track_record_progress(tmp_path) is None


def test_no_process_is_said_in_words(tmp_path, monkeypatch):
    def none(*_, **__):
        raise OSError("no more processes")

    monkeypatch.setattr(subprocess, "Popen", none)
    with pytest.raises(StoreError, match="track record could not be started"):
        start_track_record(tmp_path)
