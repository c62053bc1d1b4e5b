"""The recipes of the container and of the services: what they call is there, as they call it."""

import configparser
import json
import re
import shlex
import shutil
import signal
import subprocess
import tomllib
from pathlib import Path

import pytest
from typer.main import get_command

from dashboard.accounts.door import OPEN
from dashboard.processes import HEARD, LONGEST_KILL_S
from etl.cli import app

ROOT = Path(__file__).resolve().parents[2]
DEPLOY = ROOT / "dashboard" / "deploy"
UNITS = sorted(path.name for path in DEPLOY.glob("braidlife*.*"))
INSTRUCTIONS = {"FROM", "COPY", "RUN", "USER", "ENV", "VOLUME", "STOPSIGNAL", "HEALTHCHECK",
                "ENTRYPOINT", "CMD"}


def steps():
    """Instructions of the container's recipe with what follows each."""
    text = re.sub(r"^#.*\n", "", (DEPLOY / "Containerfile").read_text(), flags=re.MULTILINE)
    return [tuple(line.split(None, 1)) for line in text.replace("\\\n", " ").splitlines() if line]


def check_call(words):
    """Check that a command is one of ours, and every option one of its own."""
    commands = get_command(app).commands
    assert words[0] in commands, words
    options = {name for option in commands[words[0]].params for name in option.opts}
    assert {word for word in words if word.startswith("--")} <= options, words


def unit(name):
    parser = configparser.ConfigParser(interpolation=None, strict=False)
    parser.optionxform = str
    parser.read(DEPLOY / name)
    return parser


def test_the_container_is_made_of_what_is_there():
    made = steps()
    assert {name for name, _ in made} == INSTRUCTIONS
    last = dict(made)
    for name, rest in made:
        if name == "COPY" and rest.startswith("--from="):
            assert rest.split()[0] == "--from=build"
        elif name == "COPY":
            assert (ROOT / rest.split()[0]).exists(), rest
        if name == "RUN":
            for line in rest.split("&&"):
                shlex.split(line)
    building, libraries, ours = (rest for name, rest in made if name == "RUN")
    builders = re.search(r"--require-hashes -r /src/(\S+)", building)[1]  # and stays behind
    assert (ROOT / builders).is_file()
    assert "--require-hashes" in libraries
    assert "--no-index" in ours
    assert made[0][1] == f"{last['FROM']} AS build"
    (names,) = (line for line in (DEPLOY / "requirements-hashed.txt").read_text().splitlines()[:1])
    python = re.search(r"python:(\d\.\d+)-slim", last["FROM"])[1]
    assert f"--python-version {python}" in names
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    assert project["requires-python"] == f">={python}"
    assert json.loads(last["ENTRYPOINT"]) == list(project["scripts"])
    check_call(call := json.loads(last["CMD"]))
    check = json.loads(last["HEALTHCHECK"].split("CMD")[1])
    compile(check[2], "health check", "exec")
    path = re.search(rf"127\.0\.0\.1:{call[call.index('--port') + 1]}(/\w+)'", check[2])[1]
    assert path in OPEN
    assert last["USER"] not in ("root", "0")


def test_the_service_calls_what_is_there_and_waits_long_enough():
    service = unit("braidlife.service")["Service"]
    check_call(shlex.split(service["ExecStart"])[1:])
    assert int(service["TimeoutStopSec"]) > LONGEST_KILL_S
    assert service["KillMode"] == "mixed"
    assert service["ExecReload"] == "/bin/kill -USR1 $MAINPID"
    assert signal.SIGUSR1 in HEARD
    called = unit("braidlife-backup.service")["Service"]["ExecStart"]
    check_call(shlex.split(shlex.split(called)[2])[2:])
    assert unit("braidlife-backup.timer")["Install"]["WantedBy"] == "timers.target"


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="no systemd-analyze here")
def test_systemd_understands_the_units(tmp_path):
    for name in UNITS:
        text = (DEPLOY / name).read_text().replace("/opt/braidlife/bin/braidlife", "/bin/true")
        (tmp_path / name).write_text(text)
    said = subprocess.run(["systemd-analyze", "verify", *(tmp_path / name for name in UNITS)],
                          capture_output=True, text=True, check=False)
    assert (said.returncode, said.stderr) == (0, "")


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="no systemd-analyze here")
@pytest.mark.parametrize("name", [name for name in UNITS if name.endswith(".service")])
def test_the_services_may_do_little(name):
    said = subprocess.run(
        ["systemd-analyze", "security", "--offline=true", "--threshold=30", str(DEPLOY / name)],
        capture_output=True, text=True, check=False)
    if "unrecognized" in said.stderr:
        pytest.skip("this systemd-analyze judges no file")
    assert "Overall exposure level" in said.stdout
    assert said.returncode == 0, said.stdout[-400:]
