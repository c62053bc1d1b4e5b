"""The memory of a build's database: as set, else half of what is free, and kept to."""

from __future__ import annotations

import pytest

from etl.load.limits import LEAST_BYTES, build_memory
from etl.load.warehouse import connect

MEMINFO = "MemTotal:       24000000 kB\nMemAvailable:    8000000 kB\n"


def system(folder, meminfo, **group):
    (folder / "meminfo").write_text(meminfo)
    for name, text in group.items():
        (folder / f"memory.{name}").write_text(text)
    return folder / "meminfo", folder


@pytest.mark.parametrize(("meminfo", "group", "expected"), [
    pytest.param(MEMINFO, {}, 4_096_000_000, id="half of what is free"),
    pytest.param(MEMINFO, {"max": "3000000000\n", "current": "1000000000\n"}, 1_000_000_000,
                 id="half of what is left in the group"),
    pytest.param(MEMINFO, {"max": "max\n", "current": "7\n"}, 4_096_000_000, id="no limit set"),
    pytest.param(MEMINFO, {"max": "900", "current": "1000"}, LEAST_BYTES, id="group is full"),
    pytest.param("MemAvailable: 10 kB", {}, LEAST_BYTES, id="next to nothing free"),
    pytest.param("odd", {}, None, id="a system that does not tell"),
    pytest.param("MemAvailable:", {}, None, id="a torn line"),
])
def test_memory_where_none_is_set(tmp_path, meminfo, group, expected):
    assert build_memory(0, *system(tmp_path, meminfo, **group)) == expected


def test_a_system_without_these_files_is_not_known(tmp_path):
    assert build_memory(0, tmp_path / "none", tmp_path / "no") is None


def test_a_limit_of_the_first_version_of_groups_counts(tmp_path):
    (tmp_path / "memory").mkdir()
    for name, text in (("limit", "2000000000"), ("usage", "400000000")):
        (tmp_path / "memory" / f"memory.{name}_in_bytes").write_text(text)
    assert build_memory(0, *system(tmp_path, MEMINFO)) == 800_000_000


def test_what_is_set_holds(tmp_path):
    assert build_memory(900, *system(tmp_path, MEMINFO)) == 900_000_000
    with connect(memory_bytes=build_memory(900)) as con:
        assert con.execute("select current_setting('memory_limit')").fetchall() == [
            ("729.5 MiB",)]  # 765 MB: it takes more than it counts
