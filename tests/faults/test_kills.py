"""kill -9 at many moments of a load: the published edition stays, the next load ends the work."""

import filecmp
import signal

import pytest

from etl.load import archive
from etl.load.publish import current_edition, current_number, editions
from tests.faults.small import FIRST, SECOND, loaded_files, new_store, same_rows, write_logs

ARCHIVING = ["fsync 1", "replace 1", "fsync 2", "fsync 3", "fsync 4", "replace 2"]
"""Before and after a copy is whole, before and after its line is in the register, half way."""
BUILDING = ["reading 3", "building 1", "making 1"]
PUBLISHING = ["publishing 1", "fsync 9", "replace 3", "fsync 10", "fsync 11", "replace 4"]
"""Before and after the edition file has its name, before and after the pointer is written."""


def test_the_moments_below_are_the_moments_of_a_load(ordered, store, more):
    done = ordered(store, more)
    assert (done["signal"], done["status"]) == (0, 0), done
    passed = [moment for moment in done["moments"]
              if moment in {*ARCHIVING, *BUILDING, *PUBLISHING, "fsync 12"}]
    assert passed == [*ARCHIVING, *BUILDING, *PUBLISHING, "fsync 12"]


def is_untouched(store, first_store):
    """Check that the first edition is current, readable and the same to the byte."""
    assert current_number(store) == 1
    assert filecmp.cmp(current_edition(store), current_edition(first_store), shallow=False)
    same_rows(store, first_store)


def register_is_whole(store):
    """Check that every file the register names is in the archive, under one number each."""
    found = archive.registered(store)
    assert [item.load_id for item in found] == list(range(1, len(found) + 1))
    assert len(found) >= len(FIRST)
    for item in found:
        archive.archived(store, item)


def is_as_if_never_killed(store, both_store):
    """Check rows, register and folder against a store whose loads were left alone."""
    same_rows(store, both_store)
    assert archive.registered(store) == archive.registered(both_store)
    mine = [name for name in loaded_files(store) if not name.startswith("editions/")]
    theirs = [name for name in loaded_files(both_store) if not name.startswith("editions/")]
    assert mine == theirs
    names = sorted(path.name for path in (store / "editions").iterdir())
    assert names == sorted(path.name for path in editions(store).values())


@pytest.mark.parametrize("moment", [*ARCHIVING, *BUILDING, *PUBLISHING])
def test_a_load_killed_at(ordered, store, more, first_store, both_store, moment):
    assert ordered(store, more, die_at=moment)["signal"] == signal.SIGKILL
    is_untouched(store, first_store)
    register_is_whole(store)
    done = ordered(store, more)
    assert (done["signal"], done["status"]) == (0, 0), done
    assert current_number(store) == 2
    is_as_if_never_killed(store, both_store)


@pytest.mark.parametrize("after_ms", [0, 25])
def test_a_load_killed_while_the_edition_is_written(ordered, store, more, first_store, both_store,
                                                    after_ms):
    assert ordered(store, more, die_writing=after_ms)["signal"] == signal.SIGKILL
    is_untouched(store, first_store)
    done = ordered(store, more)
    assert (done["signal"], done["status"]) == (0, 0), done
    is_as_if_never_killed(store, both_store)


def test_a_load_killed_after_the_switch_has_published(ordered, store, more, both_store):
    assert ordered(store, more, die_at="fsync 12")["signal"] == signal.SIGKILL
    assert current_number(store) == 2
    same_rows(store, both_store)
    assert ordered(store, more)["status"] == 0
    is_as_if_never_killed(store, both_store)


@pytest.mark.parametrize("moment", ["estimating 1", "replace 7"])
def test_the_first_load_of_all_killed(ordered, tmp_path, both_store, moment):
    store, logs = new_store(tmp_path / "store"), write_logs(tmp_path / "logs", FIRST)
    assert ordered(store, logs, die_at=moment)["signal"] == signal.SIGKILL
    assert current_number(store) == 0
    assert ordered(store, logs)["status"] == 0
    assert ordered(store, write_logs(tmp_path / "more", SECOND))["status"] == 0
    is_as_if_never_killed(store, both_store)
