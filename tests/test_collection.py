"""No test is left out unseen, and benchmarks, which no test run starts, can be started."""

import importlib
from fnmatch import fnmatch
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


def test_no_folder_with_tests_is_skipped_for_its_name(pytestconfig):
    patterns = pytestconfig.getini("norecursedirs")
    trees = [ROOT / name for name in pytestconfig.getini("testpaths")]
    files = [file for tree in trees for file in tree.rglob("*.py")]
    folders = {part for file in files for part in file.relative_to(ROOT).parts[:-1]}
    skipped = {name for name in folders for pattern in patterns if fnmatch(name, pattern)}
    assert skipped == set()
    assert "build" in folders


@pytest.mark.parametrize("name", sorted(
    file.stem for file in (ROOT / "tests" / "bench").glob("*.py")))
def test_every_benchmark_finds_what_it_imports(name):
    importlib.import_module(f"tests.bench.{name}")
