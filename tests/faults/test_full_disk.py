"""A disk that fills up while archiving, building or publishing: one sentence, nothing lost."""

import shutil
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from etl.load import archive
from tests.faults.small import SECOND, same_rows

ROOT = Path(__file__).resolve().parents[2]


def big_logs(folder: Path) -> Path:
    """Return the second batch with a repeat of half a megabyte."""
    folder.mkdir()
    for name, text in SECOND.items():
        (folder / name).write_text(text, encoding="utf-8")
    repeat = SECOND["installations_2.csv"].splitlines()[1] + "\n"
    with (folder / "installations_2.csv").open("a") as file:
        file.write(repeat * 16_000)
    return folder


@pytest.mark.parametrize(("largest", "stopped"), [
    (3, "the store could not be prepared: No space left on device"),
    (200_000, "the load stopped: File too large"),
    (2_000_000, "edition 2 could not be written: "),
])
def test_no_room_for_a_file(ordered, store, tmp_path, first_store, largest, stopped):
    logs = big_logs(tmp_path / "logs")
    done = ordered(store, logs, largest_file=largest)
    assert done["status"] == 2, done
    assert done["said"].startswith(stopped)
    assert "The published edition is untouched. Free some space (" in done["said"]
    assert str(tmp_path) not in done["said"]
    same_rows(store, first_store)
    for item in archive.registered(store):
        archive.archived(store, item)
    assert not [path.name for path in store.rglob("*.tmp*")]
    assert not list(store.glob("work.*"))
    assert [path.name for path in (store / "editions").iterdir()] == ["edition-000001.duckdb"]
    assert ordered(store, logs)["status"] == 0
    assert len(archive.registered(store)) == 7


IN_A_SMALL_DISK = """
    import shutil, sys
    from pathlib import Path
    from etl import run
    from etl.errors import StoreError
    from etl.load.publish import current_edition, current_number
    from tests.faults.small import FIRST, SECOND, new_store, tables, write_logs
    folder = Path(sys.argv[1])
    store = new_store(folder / "disk" / "store")
    logs = write_logs(folder / "logs", FIRST)
    run.load(logs, store)
    before = tables(store)
    free = int(sys.argv[2])
    import os, shutil
    with (folder / "disk" / "other").open("wb") as file:
        file.write(bytes(shutil.disk_usage(folder / "disk").free - free))
    try:
        run.load(write_logs(folder / "more", SECOND), store)
    except StoreError as exc:
        print(exc)
    assert current_number(store) == 1
    assert tables(store) == before
    assert [path.name for path in (store / "editions").iterdir()] == ["edition-000001.duckdb"]
    (folder / "disk" / "other").unlink()
    print(run.load(folder / "more", store).edition)
"""


@pytest.mark.parametrize(("free", "stopped"), [(0, "the "), (1_000_000, "edition 2 could not")])
def test_a_disk_without_space(tmp_path, free, stopped):
    """A small disk of its own, seen by one process only; needs no rights where Linux allows it."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["unshare", "-rm", "sh", "-c", 'mount -t tmpfs -o size=32m tmpfs "$0" && exec "$@"',
             str(disk)]
    if not shutil.which("unshare") or subprocess.run(
            [*mount, "true"], capture_output=True, check=False).returncode:
        pytest.skip("no disk of our own: unshare and mount are not permitted here")
    done = subprocess.run(
        [*mount, sys.executable, "-c", textwrap.dedent(IN_A_SMALL_DISK), str(tmp_path), str(free)],
        capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode == 0, done.stderr
    said, edition = done.stdout.splitlines()
    assert said.startswith(stopped)
    assert "No space left on device" in said
    assert "The published edition is untouched. Free some space (" in said
    assert str(tmp_path) not in said
    assert edition == "2"
