"""A store that was damaged, or made by another version: what is said, and that the cure works."""

import subprocess
import sys
from pathlib import Path

import duckdb
import pytest

from dashboard.queries.edition import REBUILD
from etl import run
from etl.errors import StoreError
from etl.load.publish import current_edition, current_number, editions
from tests.dashboard.page_reader import Reader
from tests.faults.small import same_rows, tables

ROOT = Path(__file__).resolve().parents[2]
TO_REBUILD = REBUILD.replace("`", "")
"""As a page says it: the command stands in letters of its own."""
PAGES = ("/", "/places", "/places/A-1", "/lives", "/lives/loop/C-1", "/trials", "/spares",
         "/data-health")


def shown(reader, address):
    """Return the words of a page, commands among them as any other."""
    return " ".join(reader.text(address).split())


def page_words(store):
    """Return the words of every page of a store; none may be a traceback or a blank."""
    reader = Reader(store)
    assert reader.client.get("/_dash-layout").status_code == 200
    found = [shown(reader, address) for address in PAGES]
    assert all(len(text) > 20 and "Traceback" not in text for text in found)
    return found


def refused_export(store, folder, table="lives"):
    """Return what an export says that cannot be made, None when it could."""
    try:
        run.export(store, table, folder / "out.csv")
    except StoreError as exc:
        said = str(exc)
    else:
        said = None
    assert str(folder) not in (said or "")
    return said


def is_cured(store, both_store, more):
    """Check that the next load gives what it would have given without the damage."""
    run.load(more, store)
    same_rows(store, both_store)
    assert all(TO_REBUILD not in text for text in page_words(store))


@pytest.mark.parametrize("left", [0, 5_000, 300_000, 4_000_000])
def test_a_truncated_edition(store, both_store, more, tmp_path, left):
    path = current_edition(store)
    whole = path.read_bytes()
    path.write_bytes(whole[:left])
    words = page_words(store)
    assert any(TO_REBUILD in text for text in words)
    said = refused_export(store, tmp_path)
    assert REBUILD in (said or "") or (said is None and left > 100_000)  # it may precede the cut
    is_cured(store, both_store, more)


def test_rubbish_inside_an_edition(store, both_store, more):
    path = current_edition(store)
    whole = bytearray(path.read_bytes())
    for at in range(20_000, len(whole) - 5_000, 9_000):
        whole[at:at + 4_000] = b"\x5a" * 4_000
    path.write_bytes(whole)
    assert any(TO_REBUILD in text for text in page_words(store))
    is_cured(store, both_store, more)


def test_pages_come_back_when_the_file_is_put_back(store, tmp_path):
    path = current_edition(store)
    whole = path.read_bytes()
    path.write_bytes(whole[:300_000])
    reader = Reader(store)
    assert any(TO_REBUILD in shown(reader, address) for address in PAGES)
    (tmp_path / "good").write_bytes(whole)
    (tmp_path / "good").replace(path)
    assert all(TO_REBUILD not in shown(reader, address) for address in PAGES)


@pytest.mark.parametrize("pointer", [
    b"", b"\xff\xfe\x00", b"edition-000001", b"../../editions/edition-000001.duckdb"])
def test_rubbish_in_the_pointer_costs_no_edition(store, both_store, more, tmp_path, pointer):
    whole = current_edition(store).read_bytes()
    (store / "current").write_bytes(pointer)
    assert all(TO_REBUILD in text for text in page_words(store))
    assert refused_export(store, tmp_path) == f"current: damaged, it names no edition. {REBUILD}"
    is_cured(store, both_store, more)
    assert current_number(store) == 2
    assert editions(store)[1].read_bytes() == whole


@pytest.mark.parametrize("lost", ["pointer", "edition", "all editions"])
def test_something_was_deleted(store, both_store, more, tmp_path, lost):
    if lost == "pointer":
        (store / "current").unlink()
    else:
        current_edition(store).unlink()
    if lost == "all editions":
        (store / "editions").rmdir()
    assert all("nothing to show yet" in text for text in page_words(store))
    assert "braidlife load" in (refused_export(store, tmp_path) or "")
    is_cured(store, both_store, more)
    assert current_number(store) == 2


def test_the_store_builds_again_from_its_own_logs(store, first_store):
    current_edition(store).unlink()
    done = subprocess.run([sys.executable, "-m", "etl", "load", "--store", str(store)],
                          capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode == 1, done.stderr  # 2 of 20 rows were refused then and are now
    assert "5 files read, 5 of them loaded before" in done.stdout
    same_rows(store, first_store)


def test_an_empty_store_has_nothing_to_build_from(tmp_path):
    done = subprocess.run([sys.executable, "-m", "etl", "load", "--store", str(tmp_path / "s")],
                          capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode == 2
    assert "holds no logs yet. Load some with `braidlife load PATH`" in done.stderr


def test_a_register_line_cut_in_half_is_named_and_can_be_deleted(store, more, first_store):
    register = store / "loads.jsonl"
    lines = register.read_text().splitlines(keepends=True)
    register.write_text("".join([*lines[:1], lines[1][:40] + "\n", *lines[2:]]))
    with pytest.raises(StoreError, match=r"loads.jsonl line 2: damaged.* delete the line"):
        run.load(more, store)
    same_rows(store, first_store)
    register.write_text("".join([*lines[:1], *lines[2:]]))
    parts = (first_store.parent / "logs" / "parts.csv")
    run.load(parts, store)
    mine, whole = tables(store), tables(first_store)
    assert {name for name in mine if repr(mine[name]) != repr(whole[name])} <= {"loads"}


@pytest.mark.parametrize("harm", [Path.unlink, lambda path: path.write_text("\n")],
                         ids=["gone", "empty"])
def test_without_its_register_a_store_takes_no_new_file_for_its_first(store, more, first_store,
                                                                      harm):
    whole = (store / "loads.jsonl").read_text()
    harm(store / "loads.jsonl")
    for logs in (more, None):
        with pytest.raises(StoreError, match=r"loads.jsonl: gone or empty.*from a backup"):
            run.load(logs, store)
    same_rows(store, first_store)
    (store / "loads.jsonl").write_text(whole)
    run.load(more, store)


def test_an_altered_file_in_the_archive_stops_the_load_until_it_is_loaded_again(
        store, first_store):
    copy = next(path for path in (store / "files").iterdir() if b"31/02/2021" in path.read_bytes())
    copy.write_bytes(copy.read_bytes().replace(b"31/02/2021", b"28/02/2021"))
    with pytest.raises(StoreError, match=r"replacements.csv \(load 3\): its archived copy was alt"):
        run.load(None, store)
    same_rows(store, first_store)
    run.load(first_store.parent / "logs", store)
    same_rows(store, first_store)


@pytest.mark.parametrize(("note", "words"), [
    ("2", "made by a newer version of Braidlife (layout 2"), ("rubbish", "format: damaged")])
def test_a_store_of_a_newer_version_is_left_alone(store, more, first_store, note, words):
    (store / "format").write_text(note)
    before = {path: path.read_bytes() for path in store.rglob("*") if path.is_file()}
    with pytest.raises(StoreError) as caught:
        run.load(more, store)
    assert words in str(caught.value)
    del before[store / "lock"]
    assert {path: path.read_bytes() for path in before} == before
    same_rows(store, first_store)


def test_a_store_from_before_layouts_were_numbered_is_taken_up(store, both_store, more):
    (store / "format").unlink()
    is_cured(store, both_store, more)
    assert (store / "format").read_text() == "1\n"


@pytest.mark.parametrize("statement", [
    "drop table ranking", "alter table lives drop column entry_age_days",
    "alter table edition drop column n_excluded", "delete from edition"])
def test_an_edition_of_another_version_says_so_where_it_matters(store, both_store, more, statement):
    with duckdb.connect(str(current_edition(store))) as con:
        con.execute(statement)
    assert any(TO_REBUILD in text for text in page_words(store))
    is_cured(store, both_store, more)
