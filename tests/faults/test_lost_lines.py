"""A register of the archive that lost some of its lines: no load publishes less without a word."""

import shutil

import pytest

from dashboard.app import create_app
from etl import run
from etl.errors import InputError, StoreError
from etl.load.publish import current_edition
from tests.faults.small import new_store, same_rows, tables, write_logs

MAPPED = {"columns.toml": '[[file]]\nmatch = "kept.csv"\nlog = "inspections"\n'
          '[file.columns]\ninspected_on = "Seen"\n',
          "kept.csv": "Seen,service_point,condition\n2020-05-01,A-1,good\n2020-05-01,A-2,good\n"}


def lines_of(store):
    return (store / "loads.jsonl").read_text().splitlines(keepends=True)


def lose(store, *numbers):
    """Take lines out of the register, counted from 0."""
    gone = [range(len(lines_of(store)))[number] for number in numbers]
    (store / "loads.jsonl").write_text("".join(
        line for number, line in enumerate(lines_of(store)) if number not in gone))


@pytest.mark.parametrize("numbers", [(0,), (-1,), (1, 2)], ids=["first", "last", "two"])
def test_lines_that_are_gone_stop_every_load_until_their_files_are_loaded_again(
        store, more, first_store, both_store, numbers):
    whole = lines_of(store)
    lost = [line.split('"source_file": "')[1].split('"')[0]
            for line in (whole[number] for number in numbers)]
    lose(store, *numbers)
    left = lines_of(store)
    for logs in (more, None):
        with pytest.raises(StoreError, match=r"loads.jsonl: lines are gone.*from a backup, or load"
                           ) as caught:
            run.load(logs, store)
        assert all(name in str(caught.value) for name in lost)
    same_rows(store, first_store)
    assert lines_of(store) == left
    again = store.parent / "again"
    shutil.copytree(more, again)
    for name in lost:
        shutil.copy(first_store.parent / "logs" / name, again / name)
    run.load(again, store)
    mine, theirs = tables(store), tables(both_store)
    assert {name for name in mine if repr(mine[name]) != repr(theirs[name])} <= {"loads"}


def test_lines_put_back_are_enough(store, more, both_store):
    whole = lines_of(store)
    lose(store, 1)
    with pytest.raises(StoreError, match="lines are gone"):
        run.load(more, store)
    (store / "loads.jsonl").write_text("".join(whole))
    run.load(more, store)
    same_rows(store, both_store)


@pytest.mark.parametrize("is_held", [False, True], ids=["alone", "beside its pages"])
def test_a_lost_line_of_a_later_mapping_does_not_bring_the_earlier_one_back(
        store, more, tmp_path, is_held):
    logs = write_logs(tmp_path / "mapped", MAPPED)
    (logs / "columns.toml").write_text("")
    run.load(logs, store)
    (logs / "columns.toml").write_text(MAPPED["columns.toml"])
    run.load(logs, store)
    before = tables(store)
    lose(store, -1)
    pages = create_app(store).server.test_client() if is_held else None
    assert pages is None or pages.get("/readyz").status_code == 200  # holds the edition open
    with pytest.raises(StoreError, match=r"those of kept\.csv, which"):
        run.load(more, store)
    run.load(logs, store)
    assert repr(tables(store)) == repr(before)


@pytest.mark.parametrize("harm", [lambda path: path.unlink(), lambda path: path.write_bytes(b"x")],
                         ids=["gone", "damaged"])
def test_where_the_edition_cannot_tell_the_archive_does(store, more, harm, first_store):
    harm(current_edition(store))
    lose(store, 1)
    with pytest.raises(StoreError, match=r"those of files/[0-9a-f]{64}\.csv, which"):
        run.load(None, store)
    run.load(first_store.parent / "logs", store)
    assert len(lines_of(store)) == 5


def test_a_load_that_was_cut_off_before_its_line_stops_nobody(store, more, both_store):
    """The bytes of a file are kept before its line is written; nothing was published of them."""
    (store / "files" / f"{'0' * 64}.csv").write_text("never noted\n")
    run.load(more, store)
    same_rows(store, both_store)


def test_a_store_without_an_edition_has_lost_nothing(tmp_path):
    store = new_store(tmp_path / "new")
    (store / "files").mkdir()
    (store / "files" / f"{'0' * 64}.csv").write_text("never noted\n")
    with pytest.raises(InputError, match="no readable date"):
        run.load(write_logs(tmp_path / "bad", {"stock.csv": "part_number,as_of,on_hand\n"}), store)
