"""Following a journal gives what reading it whole gives, whatever happens to the file."""

import random

import pytest

from etl.entry.follow import follow
from etl.entry.journal import append
from etl.load.entered import journal_path, read_journal

ROW = {"inspected_on": "2026-11-01", "service_point": "P 1", "condition": "good"}


def is_followed(store):
    assert follow(store, "inspections") == read_journal(store, "inspections")


@pytest.mark.parametrize("seed", range(6))
def test_it_is_what_is_read_whole(tmp_path, seed):
    rng = random.Random(seed)
    path = journal_path(tmp_path, "inspections")
    is_followed(tmp_path)
    for number in range(60):
        append(tmp_path, "inspections", f"{number:016d}", "Ann", [ROW] * rng.randint(1, 3))
        what = rng.random()
        content = path.read_bytes()
        if what < 0.2:  # a line is torn
            path.write_bytes(content + content[:rng.randint(1, 150)])
        elif what < 0.3:  # a whole entry loses its line end
            path.write_bytes(content[:-1])
        elif what < 0.4:  # a copy comes again
            path.write_bytes(content + content.splitlines(keepends=True)[0])
        elif what < 0.45:  # a backup is put back
            path.write_bytes(content[:rng.randint(0, len(content))])
        elif what < 0.5:  # another file of the same length takes its place
            path.write_bytes(content.replace(b"Ann", b"Bob"))
        if rng.random() < 0.7:
            is_followed(tmp_path)
    is_followed(tmp_path)
    path.unlink()
    is_followed(tmp_path)


def test_two_stores_are_two(tmp_path):
    for name in "ab":
        append(tmp_path / name, "inspections", name * 16, "Ann", [ROW])
    assert [follow(tmp_path / name, "inspections").entries[0].entry_id[0] for name in "ab"] == [
        "a", "b"]
