"""A disk that is full, or read-only: whatever writes says so in a sentence, and nothing is lost."""

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
REASONS = {"full": "No space left on device", "read-only": "Read-only file system"}
ACCOUNTS = {"full": "nothing was changed, the disk is full",
            "read-only": "nothing was changed, the store may not be written"}
MAY_PASS = {"entry", "role", "removal", "edition"}
"""On a full disk: what fits into a block that is there already, and what only makes room."""


@pytest.fixture(scope="module", params=list(REASONS))
def told(request, tmp_path_factory):
    """What every door said on a small disk of its own, seen by one process only."""
    disk = tmp_path_factory.mktemp("disk")
    mount = ["unshare", "-rm", "sh", "-c", 'mount -t tmpfs -o size=96m tmpfs "$0" && exec "$@"',
             str(disk)]
    if not shutil.which("unshare") or subprocess.run(
            [*mount, "true"], capture_output=True, check=False).returncode:
        pytest.skip("no disk of our own: unshare and mount are not permitted here")
    done = subprocess.run(
        [*mount, sys.executable, "-m", "tests.faults.doors", str(disk), request.param],
        capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode == 0, done.stderr
    assert str(disk) not in done.stdout
    return request.param, json.loads(done.stdout)


def test_every_door_says_why_in_a_sentence(told):
    how, found = told
    assert len(found["doors"]) > 10
    for name, said in found["doors"].items():
        if name in ("account", "role"):
            assert said.startswith("accounts: ") or (name in MAY_PASS and not said), (name, said)
            assert "damaged" not in said
            assert "remove it" not in said
        elif not (how == "full" and name in MAY_PASS and not said):
            assert REASONS[how] in said, (name, said)
    assert ACCOUNTS[how] in found["doors"]["account" if how == "full" else "role"]


def test_pages_go_on_for_who_had_signed_in(told):
    how, found = told
    http = found["http"]
    pages = [name for name in http if name.startswith("/")]
    assert len(pages) > 3
    for name in [*pages, "accounts", "ready"]:
        status, text = http[name]
        assert status == 200, (name, text[:300])
        assert "could not be shown" not in text
    for name in ("sign-in", "invite"):
        assert http[name][0] == 503
        assert ACCOUNTS[how] in http[name][1]
    assert http["upload"][0] == 422
    assert REASONS[how] in json.loads(http["upload"][1])["problem"]
    assert not any("Traceback" in text for _, text in http.values())


def test_commands_say_it_in_one_line(told):
    how, found = told
    for name, (status, said) in found["commands"].items():
        assert "Traceback" not in said, (name, said)
        assert status == (0 if name == "check" else 2), (name, said)
        assert name == "check" or REASONS[how] in said.splitlines()[-1]


def test_nothing_is_lost_and_nothing_half_is_left(told):
    how, found = told
    may_change = {"entries/inspections.jsonl", "incoming/waiting.csv", "entries/progress.json"}
    changed = [name for name in found["changed"] if not re.match("audit/", name)]
    assert set(changed) <= (may_change if how == "full" else set()), changed
    assert not [name for name in found["left"] if name.endswith((".tmp", ".part"))]
    assert not [name for name in found["beside"] if name in ("x.csv", "second.zip", "x.csv.part")]


def test_the_job_says_what_stopped_it(told):
    how, found = told
    assert (REASONS["full"] if how == "full" else "interrupted") in found["progress"]


def test_with_room_again_everything_works(told):
    how, found = told
    gone = {"choice", "removal", "load of uploads"}  # the file was loaded or taken away meanwhile
    for name, said in found["again"].items():
        assert not said or (name in gone and "file waits" in said), (name, said)
