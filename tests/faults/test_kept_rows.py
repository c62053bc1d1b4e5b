"""Rows kept of a whole build: an edition made with them is the one made without, whatever befalls
them."""

import shutil
from pathlib import Path

import duckdb
import pytest

from etl import refresh, run
from etl.backup_snapshot import _names
from etl.errors import StoreError
from etl.load.base import ASIDE, FILE
from etl.load.publish import store_lock
from tests.faults.lived import enter
from tests.faults.small import FIRST, SETTINGS, new_store, same_rows, write_logs

LATER = {
    "installations_2.csv": "installed_on,service_point,hose_id,construction,part_number\n"
    "2021-05-05,A-2,014,C-2,00124\n2021-09-09,A-2,016,,00123\n2021-09-10,A-2,016,C-1\n",
    "replacements_2.csv": "removed_on,service_point,hose_id,reason,mechanism\n"
    "2021-09-09,A-2,014,failed,corrosion\n2021-09-09,A-7,0,failed,rust\n",
    "stock_2.csv": "part_number,as_of,on_hand,on_order\n00123,2021-09-01,1,4\n",
}
KEEPING = f"{SETTINGS}rows_kept_from = 0\n"


@pytest.fixture(scope="module")
def wanted(tmp_path_factory):
    """Store whose second load built everything again."""
    folder = tmp_path_factory.mktemp("wanted")
    store = new_store(folder / "store")
    run.load(write_logs(folder / "logs", FIRST), store)
    run.load(write_logs(folder / "more", LATER), store)
    return store


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """Store with the first batch, and what it keeps of it; read it, never write to it."""
    folder = tmp_path_factory.mktemp("kept")
    store = new_store(folder / "store")
    (store / "settings.toml").write_text(KEEPING, encoding="utf-8")
    run.load(write_logs(folder / "logs", FIRST), store)
    assert (store / FILE).is_file()
    return store


@pytest.fixture
def keeping(kept, tmp_path):
    """Copy of that store that a test may harm."""
    return Path(shutil.copytree(kept, tmp_path / "store"))


def load_more(store, tmp_path):
    """Load the second batch; say whether only what it touches was built."""
    said = []
    run.load(write_logs(tmp_path / "more", LATER), store, say=said.append)
    assert not (store / ASIDE).exists()
    return "checking and typing rows" not in said


def altered(path, statement):
    """Run a statement on the file of kept rows."""
    with duckdb.connect(str(path)) as con:
        con.execute(statement)


def test_only_what_new_rows_touch_is_built_and_the_edition_is_the_same(keeping, wanted, tmp_path):
    assert load_more(keeping, tmp_path)
    same_rows(keeping, wanted)


def test_a_second_batch_is_put_beside_the_same_rows(keeping, wanted, tmp_path):
    before = (keeping / FILE).read_bytes()
    for name, text in LATER.items():
        run.load(write_logs(tmp_path / name[:5], {name: text}), keeping)
    assert (keeping / FILE).read_bytes() == before
    one = new_store(tmp_path / "one")
    run.load(write_logs(tmp_path / "logs", FIRST), one)
    for name in LATER:
        run.load(tmp_path / name[:5], one)
    same_rows(keeping, one)


@pytest.mark.parametrize("harm", [
    lambda path: path.write_bytes(path.read_bytes()[:9000]),
    lambda path: path.write_bytes(b"".join(
        part if n < 13 or n % 2 else b"\7" * len(part) for n, part in enumerate(
            path.read_bytes()[at:at + 9973] for at in range(0, path.stat().st_size, 9973)))),
    lambda path: path.unlink(),
    lambda path: altered(path, "delete from note"),
    *[lambda path, name=name: altered(path, f"update note set {name} = null")
      for name in ("sign", "as_of", "looks_to", "n_unknown_words")],
], ids=["cut short", "rubbish all over", "gone", "no note", "no sign", "no day", "no looks",
        "no words"])
def test_damaged_rows_are_built_again_from_the_archive(keeping, wanted, tmp_path, harm):
    harm(keeping / FILE)
    load_more(keeping, tmp_path)
    same_rows(keeping, wanted)


def test_damage_that_only_writing_the_edition_meets_costs_no_edition(keeping, wanted, tmp_path,
                                                                      monkeypatch):
    """Cells of places that nothing touches are read for the first time when they are copied."""
    publish = refresh.publish

    def meet(con, store, tables, kept):
        if (store / FILE).is_file():
            raise StoreError("edition 2 could not be written: Corrupt database file.")
        return publish(con, store, tables, kept)

    monkeypatch.setattr(refresh, "publish", meet)
    assert not load_more(keeping, tmp_path)
    same_rows(keeping, wanted)


def test_rows_kept_for_other_settings_are_not_used(keeping, tmp_path):
    (keeping / "settings.toml").write_text(
        f"{KEEPING}degraded_is_suspension = [\"loop\"]\n", encoding="utf-8")
    assert not load_more(keeping, tmp_path)


def test_an_earlier_data_date_is_built_whole_and_keeps_what_is_kept(keeping, tmp_path):
    before = (keeping / FILE).read_bytes()
    said = []
    refresh.load(None, keeping, as_of="2021-06-01", say=said.append)
    assert "checking and typing rows" in said
    assert (keeping / FILE).read_bytes() == before


def test_a_register_that_comes_again_is_not_waited_for_twice(keeping, tmp_path):
    more = write_logs(tmp_path / "register", {
        "service_points_2.csv": "service_point,application_class,site,line\nA-0,loop,north,1\n"})
    run.load(more, keeping)
    assert not (keeping / FILE).exists()


def test_a_row_of_a_later_day_counts_from_that_day_on(tmp_path):
    stores = []
    for settings in (KEEPING, SETTINGS):
        store = new_store(tmp_path / settings[-3:].strip())
        (store / "settings.toml").write_text(settings, encoding="utf-8")
        run.load(write_logs(tmp_path / "logs", FIRST | {
            "replacements_0.csv": "removed_on,service_point,reason\n2021-08-05,Å 3,failed\n"}),
            store, as_of="2021-08-01")
        run.load(write_logs(tmp_path / "more", LATER), store)
        stores.append(store)
    same_rows(*stores)


def test_what_a_dead_load_began_to_keep_is_removed(keeping, tmp_path):
    for name in (ASIDE, f"{ASIDE}.wal"):
        (keeping / name).write_bytes(b"half")
    with store_lock(keeping):
        assert not [path for path in keeping.iterdir() if path.name.startswith("work")]


def test_no_room_to_keep_rows_costs_no_edition(tmp_path, wanted, monkeypatch):
    def full(con, store, sign):
        (store / ASIDE).write_bytes(b"half")
        raise duckdb.IOException("No space left on device")

    monkeypatch.setattr(refresh, "write_base", full)
    store = new_store(tmp_path / "store")
    (store / "settings.toml").write_text(KEEPING, encoding="utf-8")
    run.load(write_logs(tmp_path / "logs", FIRST), store)
    assert not (store / FILE).exists()
    assert not (store / ASIDE).exists()
    load_more(store, tmp_path)
    same_rows(store, wanted)


def test_a_backup_leaves_out_what_can_be_built_again(keeping):
    assert FILE not in _names(keeping)
    assert "loads.jsonl" in _names(keeping)


def test_the_day_is_the_latest_of_kept_and_new_rows(keeping, tmp_path):
    done = run.load(write_logs(tmp_path / "more", {"replacements_3.csv": (
        "removed_on,service_point,reason\n2021-07-15,A-2,failed\n")}), keeping)
    assert done.as_of == "2021-08-01"


def test_entries_from_the_pages_are_put_beside_kept_rows(keeping, tmp_path):
    enter(keeping, 2)
    said = []
    run.load(None, keeping, say=said.append)
    assert "checking and typing rows" not in said
    one = new_store(tmp_path / "one")
    run.load(write_logs(tmp_path / "logs", FIRST), one)
    shutil.copytree(keeping / "entries", one / "entries")
    run.load(None, one)
    same_rows(keeping, one)
    enter(keeping, 3)  # into the same load of that day and person
    run.load(None, keeping)
    shutil.copytree(keeping / "entries", one / "entries", dirs_exist_ok=True)
    run.load(None, one)
    same_rows(keeping, one)
