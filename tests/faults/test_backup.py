"""Backup and restore: everything comes back, also of a store in use, and nothing hostile does."""

import json
import os
import resource
import shutil
import stat
import sys
import threading
import time

import pytest

from etl import audit, cli, run
from etl.backup import back_up
from etl.backup_restore import restore
from etl.entry.photographs import find_photograph
from etl.errors import InputError, StoreError
from etl.load import archive
from etl.load.entered import read_journal
from etl.load.publish import UNFINISHED, current_edition
from tests.faults.lived import enter, held
from tests.faults.small import same_rows


def test_everything_comes_back_to_the_byte(lived_in, tmp_path):
    done = back_up(lived_in, tmp_path / "b.zip")
    assert (done.damaged, done.left_out, done.listed.edition) == ((), (), 1)
    assert stat.S_IMODE((tmp_path / "b.zip").stat().st_mode) == 0o600
    back = restore(tmp_path / "b.zip", tmp_path / "new")
    assert (back.listed, back.put_aside) == (done.listed, "")
    assert held(tmp_path / "new") == held(lived_in)


def test_a_restored_store_goes_on_as_the_store_would_have(first_store, both_store, more, tmp_path):
    back_up(first_store, tmp_path / "b.zip")
    restore(tmp_path / "b.zip", tmp_path / "new")
    same_rows(tmp_path / "new", first_store)
    run.load(more, tmp_path / "new")
    same_rows(tmp_path / "new", both_store)


def test_the_same_store_gives_the_same_parts(lived_in, tmp_path):
    first, second = (back_up(lived_in, tmp_path / name).listed for name in ("1.zip", "2.zip"))
    assert first.parts == second.parts


def is_consistent(store):
    """Check that all a store's register, journals and pointer name is there and whole."""
    assert current_edition(store).is_file()
    for item in archive.registered(store):
        archive.archived(store, item)
    journal = read_journal(store, "teardowns")
    assert journal.torn == ()
    for entry in journal.entries:
        assert find_photograph(store, entry.rows[0]["value"]) is not None
    return len(journal.entries)


def test_a_backup_while_loads_run_and_pages_write_is_a_state_of_the_store(store, more, tmp_path):
    (store / "settings.toml").write_text("n_draws = 20\neditions_kept = 1\n")
    over, entered = threading.Event(), []

    def write():
        while not over.is_set():
            enter(store, len(entered))
            entered.append(1)
            time.sleep(0.02)

    writer = threading.Thread(target=write)
    loader = threading.Thread(target=lambda: run.load(more, store))
    writer.start()
    loader.start()
    n_backups, counts = 0, []
    while loader.is_alive():
        before = len(entered)
        file, new = tmp_path / f"{n_backups}.zip", tmp_path / f"new-{n_backups}"
        back_up(store, file)
        restore(file, new)
        counts.append(is_consistent(new))
        assert before <= counts[-1]  # what was confirmed before is in it
        shutil.rmtree(new)
        file.unlink()
        n_backups += 1
    over.set()
    writer.join()
    assert n_backups > 3
    assert counts == sorted(counts)


def test_what_waits_to_be_loaded_and_what_was_set_aside_is_kept(lived_in, tmp_path):
    kept = {"incoming/March.xlsx": b"x", "incoming/choices.json": b"{}",
            "set-aside/20261126-0/entries/inspections.jsonl": b"{}\n"}
    for name, content in kept.items():
        (lived_in / name).parent.mkdir(parents=True, exist_ok=True)
        (lived_in / name).write_bytes(content)
    (lived_in / "incoming" / "half.tmp").write_bytes(b"half")
    back_up(lived_in, tmp_path / "b.zip")
    restore(tmp_path / "b.zip", tmp_path / "new")
    assert {name: (tmp_path / "new" / name).read_bytes() for name in kept} == kept
    assert not (tmp_path / "new" / "incoming" / "half.tmp").exists()


def test_never_over_a_store_unasked(lived_in, tmp_path):
    back_up(lived_in, tmp_path / "b.zip")
    before = held(lived_in)
    with pytest.raises(InputError, match="never restored over one unasked"):
        restore(tmp_path / "b.zip", lived_in)
    enter(lived_in, 2)
    later = held(lived_in)
    done = restore(tmp_path / "b.zip", lived_in, is_replacing=True)
    assert held(lived_in) == before
    assert held(lived_in.with_name(done.put_aside)) == later


def test_a_backup_is_never_written_over_nor_into_its_store(lived_in, tmp_path):
    (tmp_path / "b.zip").write_bytes(b"older")
    with pytest.raises(InputError, match="exists already"):
        back_up(lived_in, tmp_path / "b.zip")
    assert (tmp_path / "b.zip").read_bytes() == b"older"
    with pytest.raises(InputError, match="lies in the store"):
        back_up(lived_in, lived_in / "b.zip")
    with pytest.raises(StoreError, match="no store"):
        back_up(tmp_path / "none", tmp_path / "c.zip")


def test_an_interrupted_restore_is_touched_by_no_load_and_done_again(lived_in, tmp_path, more,
                                                                     monkeypatch):
    back_up(lived_in, tmp_path / "b.zip")
    moved, real = [], os.replace

    def stop_half_way(source, target):
        if len(moved) == 3:
            raise KeyboardInterrupt
        moved.append(target)
        real(source, target)

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", stop_half_way)
        with pytest.raises(KeyboardInterrupt):
            restore(tmp_path / "b.zip", tmp_path / "new")
    assert (tmp_path / "new" / UNFINISHED).is_dir()
    with pytest.raises(StoreError, match="a restore into this store was interrupted"):
        run.load(more, tmp_path / "new")
    done = restore(tmp_path / "b.zip", tmp_path / "new")
    assert done.put_aside.startswith("new.before-")
    assert held(tmp_path / "new") == held(lived_in)


def test_no_room(lived_in, tmp_path):
    back_up(lived_in, tmp_path / "b.zip")
    resource.setrlimit(resource.RLIMIT_FSIZE, (1_000_000, -1))
    try:
        with pytest.raises(InputError, match=r"c.zip: no backup was made \(File too large\)"):
            back_up(lived_in, tmp_path / "c.zip")
        with pytest.raises(StoreError, match=r"could not be written \(File too large\)"):
            restore(tmp_path / "b.zip", tmp_path / "new")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (-1, -1))
    assert not list(tmp_path.glob("c.zip*"))
    restore(tmp_path / "b.zip", tmp_path / "new")
    assert held(tmp_path / "new") == held(lived_in)


def test_what_is_damaged_in_the_store_is_told_and_kept(lived_in, tmp_path):
    copy = next((lived_in / "files").iterdir())
    copy.write_bytes(b"altered")
    (lived_in / "logs").mkdir()
    (lived_in / "logs" / "a:b.csv").write_text("x")
    done = back_up(lived_in, tmp_path / "b.zip")
    assert done.damaged == (f"files/{copy.name}",)
    assert done.left_out == ("logs/a:b.csv",)
    assert "Damaged in the store already: files/" in done.summary()
    restore(tmp_path / "b.zip", tmp_path / "new")
    assert (tmp_path / "new" / "files" / copy.name).read_bytes() == b"altered"


def test_the_commands(lived_in, tmp_path, capsys, monkeypatch):
    def call(*args):
        monkeypatch.setattr(sys, "argv", ["braidlife", *map(str, args)])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        said = capsys.readouterr()
        return ended.value.code, said.out, said.err

    status, said, wrong = call("backup", tmp_path / "b.zip", "--store", lived_in)
    assert (status, wrong) == (0, "")
    assert said.startswith("b.zip: edition 1, ")
    status, said, _ = call("restore", tmp_path / "b.zip", "--store", tmp_path / "new", "--json")
    assert json.loads(said)["edition"] == 1
    assert audit.latest(tmp_path / "new", 1)[0] | {"at": ""} == {
        "at": "", "what": "restored", "who": "command line", "edition": 1, "backup": "b.zip"}
    status, _, wrong = call("restore", tmp_path / "b.zip", "--store", tmp_path / "new")
    assert status == 2
    assert "never restored over one unasked" in wrong
