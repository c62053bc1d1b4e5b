"""Small versions of the random faults: servers killed, a read-only disk, a clock set back."""

import datetime as dt
import random
import shutil
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from etl.entry.journal import append
from etl.load import archive
from etl.load.columns import LOGS
from etl.load.entered import batches, read_journal
from tests.bench.faults import ROW, killed_servers
from tests.faults.small import SECOND, same_rows, write_logs

ROOT = Path(__file__).resolve().parents[2]


def test_what_a_killed_server_confirmed_is_there(first_store, tmp_path):
    found = killed_servers(tmp_path, first_store, 3, random.Random(1))
    assert found.lost == []
    assert found.seen["kept"] >= found.seen["confirmed"] > 0


ON_A_READ_ONLY_DISK = """
    import sys
    from pathlib import Path
    from etl import run
    from etl.backup import back_up
    from etl.entry.journal import append
    from etl.errors import BraidlifeError
    from tests.dashboard.page_reader import Reader
    from tests.bench.faults import ROW

    store, out = map(Path, sys.argv[1:])
    reader = Reader(store)
    print(reader.client.get("/ready").status_code, reader.client.get("/health").status_code)
    print(all("could not be shown" not in reader.text(page) for page in ("/", "/places")))
    for write in (lambda: append(store, "inspections", "entry-0000000000000001", "R. Moss", [ROW]),
                  lambda: run.load(None, store)):
        try:
            write()
        except BraidlifeError as exc:
            print(exc)
    print(back_up(store, out).listed.edition)
"""


def test_a_disk_that_became_read_only(store, tmp_path, first_store):
    """As after a fault of the disk: pages and backups go on, writes are refused in words."""
    mount = ["unshare", "-rm", "sh", "-c", 'mount --bind "$0" "$0" && '
             'mount -o remount,ro,bind "$0" && exec "$@"', str(store)]
    if not shutil.which("unshare") or subprocess.run(
            [*mount, "true"], capture_output=True, check=False).returncode:
        pytest.skip("no read-only disk: unshare and mount are not permitted here")
    done = subprocess.run(
        [*mount, sys.executable, "-c", textwrap.dedent(ON_A_READ_ONLY_DISK), str(store),
         str(tmp_path / "b.zip")], capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode == 0, done.stderr
    statuses, shown, entry, load, backup = done.stdout.splitlines()
    assert (statuses, shown, backup) == ("200 200", "True", "1")
    assert entry.startswith("the entry could not be kept: Read-only file system. ")
    assert load.startswith("the store could not be opened for loading: Read-only file system. ")
    assert "Give this user the right to write" in load
    same_rows(store, first_store)


def test_a_clock_set_back_loses_no_file_and_no_entry(store, tmp_path, monkeypatch):
    class Early(dt.date):
        @classmethod
        def today(cls):
            return dt.date(2019, 1, 1)

    before = archive.registered(store)
    append(store, "inspections", "entry-0000000000000001", "R. Moss", [ROW])
    append(store, "inspections", "entry-0000000000000002", "R. Moss",
           [{**ROW, "condition": "worn"}], at=dt.datetime(2019, 1, 1, tzinfo=dt.UTC))
    monkeypatch.setattr(archive.dt, "date", Early)
    archive.add(store, write_logs(tmp_path / "late", SECOND))
    monkeypatch.undo()
    after = archive.registered(store)
    assert after[:len(before)] == before
    assert [item.load_id for item in after] == list(range(1, 8))
    journal = read_journal(store, "inspections")
    loads = [batch.load_id for batch in batches(LOGS["inspections"], journal)]
    assert len(journal.entries) == 2
    assert loads == sorted(loads)  # the later entry stands over the earlier, whatever the clock
