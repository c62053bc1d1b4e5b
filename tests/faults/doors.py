"""Try everything that writes to a store on a small disk of its own: full, read-only, whole again.

``python -m tests.faults.doors DISK HOW`` runs where DISK is a file system of its own, and prints
one JSON object: what each door said, and whether the store still holds what it held.
"""

from __future__ import annotations

import io
import json
import subprocess
import sys
import traceback
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import Any
from unittest import mock

from dashboard import actions
from dashboard.app import create_app
from etl import run
from etl.account import keep, passwords, sessions
from etl.backup import back_up
from etl.backup_restore import restore
from etl.cli import main as main_of_cli
from etl.entry import incoming, job
from etl.entry.journal import append
from etl.entry.photographs import keep_photograph
from etl.errors import BraidlifeError
from tests.accounts.house import HERE, PASSWORD, enter, post
from tests.bench.faults import ROW
from tests.bench.visitors import body_of
from tests.faults.lived import held, picture
from tests.faults.small import FIRST, SECOND, new_store, write_logs

ID = "entry-0000000000000002"
PAGES = ("/", "/places", "/places/A-1", "/data-health")


def prepared(disk: Path) -> Path:
    """Return a store that somebody has used, with a backup beside it."""
    store = new_store(disk / "store")
    run.load(write_logs(disk / "logs", FIRST), store)
    keep.add(store, "Ann", "keeper", PASSWORD)
    append(store, "inspections", "entry-0000000000000001", "Ann", [ROW])
    keep_photograph(store, picture(1))
    incoming.add_file(store, "waiting.csv", SECOND["replacements_2.csv"].encode())
    back_up(store, disk / "whole.zip")
    write_logs(disk / "more", SECOND)
    return store


def doors(disk: Path, store: Path) -> dict[str, Callable[[], Any]]:
    """Return all that writes, by name."""
    return {
        "load": lambda: run.load(disk / "more", store),
        "entry": lambda: append(store, "inspections", ID, "Ann", [ROW | {"condition": "worn"}]),
        "first entry of a log": lambda: append(store, "teardowns", ID, "Ann", [
            {"service_point": "A-1", "finding": "dent", "examined_on": "2021-08-01"}]),
        "photograph": lambda: keep_photograph(store, picture(2) + b"\0" * 9000),
        "upload": lambda: incoming.add_file(store, "x.csv", b"a,b\n" + b"1,2\n" * 9000),
        "choice": lambda: incoming.choose(store, "waiting.csv", {"kind": "replacements"}),
        "load of uploads": lambda: incoming.load_files(store),
        "removal": lambda: incoming.remove_file(store, "waiting.csv"),
        "account": lambda: keep.add(store, "Ben", "viewer", PASSWORD),
        "role": lambda: keep.change_role(store, "Ann", "keeper"),
        "backup": lambda: back_up(store, disk / "second.zip"),
        "restore": lambda: restore(disk / "whole.zip", disk / "other"),
        "edition": lambda: job.start(store),
    }


def said(door: Callable[[], Any]) -> str:
    """Return what a door says; anything but words of ours begins with a star."""
    try:
        door()
    except BraidlifeError as exc:
        return str(exc)
    except Exception as exc:
        return f"*{type(exc).__name__}: {exc}"
    return ""


def over_http(app: Any, client: Any) -> dict[str, tuple[int, str]]:
    """Return statuses and words of the running pages, asked by one who had signed in before."""
    token = app.server.config[actions.KEY].token
    other = app.server.test_client()
    answers = {
        "sign-in": enter(other, "Ann"),
        "upload": client.post("/incoming?name=y.csv", data=b"a,b\n" + b"1,2\n" * 9000,
                              headers=HERE | {"X-Braidlife-Token": token}),
        "invite": post(client, do="invite", name="Cleo", role="viewer"),
        "accounts": client.get("/accounts"),
        "ready": client.get("/ready"),
    } | {page: client.post("/_dash-update-component", headers=HERE, json=body_of(
        app.callback_map, "_pages_content.children",
        {"_pages_location.pathname": page, "_pages_location.search": ""})) for page in PAGES}
    return {name: (answer.status_code, answer.get_data(as_text=True))
            for name, answer in answers.items()}


def by_command(disk: Path, store: Path) -> dict[str, tuple[int, str]]:
    """Return exit statuses and words of the commands that write beside the store."""
    calls = {
        "export": ["export", "lives", "--out", str(disk / "x.csv"), "--store", str(store)],
        "report": ["report", "--out", str(disk / "r"), "--store", str(store)],
        "load": ["load", str(disk / "more"), "--store", str(store)],
        "check": ["check", str(disk / "more"), "--write"],
    }
    out = {}
    for name, words in calls.items():
        errors, status = io.StringIO(), 0
        with mock.patch.object(sys, "argv", ["braidlife", *words]), redirect_stderr(errors), \
                redirect_stdout(io.StringIO()):
            try:
                main_of_cli()
            except SystemExit as exc:
                status = int(exc.code or 0)
            except Exception:
                errors.write(traceback.format_exc())
        out[name] = (status, errors.getvalue().strip())
    return out


def in_its_own_process(disk: Path) -> Any:
    """Run the commands where no page holds the edition open."""
    done = subprocess.run([sys.executable, "-m", "tests.faults.doors", str(disk), "commands"],
                          capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


def shut(disk: Path, how: str) -> None:
    """Fill the disk to the last byte, or let nobody write to it."""
    if how == "read-only":
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        return
    with (disk / "filler").open("wb", buffering=0) as file:
        for size in (1 << 20, 4096, 1):
            try:
                while file.write(bytes(size)) == size:
                    pass
            except OSError:
                pass


def opened(disk: Path, how: str) -> None:
    """Let the disk be written again."""
    if how == "read-only":
        subprocess.run(["mount", "-o", "remount,rw", str(disk)], check=True)
    else:
        (disk / "filler").unlink()


def main() -> None:
    """Print what each door said while the disk took nothing, and after."""
    disk, how = Path(sys.argv[1]), sys.argv[2]
    if how == "commands":
        print(json.dumps(by_command(disk, disk / "store")))
        return
    job.subprocess = mock.MagicMock()  # jobs run where they are seen
    passwords.HASHER = passwords.argon2.PasswordHasher(1, 8, 1)
    sessions.SEEN_EVERY_S = -1.0  # each request would be noted as seen
    store = prepared(disk)
    (store / "entries" / job.PROGRESS).write_text('{"state": "building"}')  # of a job that died
    app = create_app(store)
    client = app.server.test_client()
    assert enter(client, "Ann").status_code == 303  # no edition is open yet
    before = held(store)
    shut(disk, how)
    told: dict[str, Any] = {
        "doors": {name: said(door) for name, door in doors(disk, store).items()},
        "commands": in_its_own_process(disk), "http": over_http(app, client)}
    if how == "full":
        job.work(store)
    told["progress"] = job.progress(store).step
    opened(disk, how)
    after = held(store)
    told["changed"] = sorted(name for name in before if after.get(name) != before[name])
    told["left"] = sorted(set(after) - set(before))
    told["beside"] = sorted(path.name for path in disk.iterdir())
    told["again"] = {name: said(door) for name, door in doors(disk, store).items()}
    print(json.dumps(told))


if __name__ == "__main__":
    main()
