"""What Braidlife is made of: licences, pins with hashes, bill of materials, declared imports."""

import ast
import importlib.metadata
import importlib.util
import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
OURS = {"etl", "dashboard", "demo_fleet", "tests", "pages"}
NOT_BY_NAME = {"flask-compress", "matplotlib", "tzdata"}
"""Wanted by other libraries of the list: compress by dash, matplotlib by reliability, days by
pandas where a system has no table of time zones."""


@pytest.fixture(scope="module")
def supply():
    spec = importlib.util.spec_from_file_location("supply", ROOT / ".ci" / "supply.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_every_runtime_library_has_a_known_licence(supply):
    stated = {name: supply.licence(name)
              for name in supply.runtime([*supply.declared(), *supply.optional()])}
    assert len(stated) > 30
    assert {name: text for name, text in stated.items() if not supply.is_allowed(text)} == {}
    assert "L" in stated["reliability"]


@pytest.mark.parametrize(("text", "is_allowed"), [
    ("", False), ("GPL-3.0-only", False), ("MIT OR GPL-2.0", False), ("AGPL-3.0", False),
    ("Proprietary", False), ("LGPL-3.0-only", True), ("MIT License", True), ("ZPL-2.1", True)])
def test_what_is_allowed(supply, text, is_allowed):
    assert supply.is_allowed(text) is is_allowed


def pins(path):
    found = re.findall(r"^([A-Za-z0-9._-]+)==(\S+)", path.read_text(), re.MULTILINE)
    return {canonicalize_name(name): version for name, version in found}


def test_what_builds_is_whole_and_pinned_with_hashes_as_in_the_lock(supply):
    text = (supply.HASHED.parent / "build-hashed.txt").read_text()
    hashed, lock = pins(supply.HASHED.parent / "build-hashed.txt"), pins(ROOT / "requirements.lock")
    assert hashed.items() <= lock.items()
    assert text.count("--hash=sha256:") == len(hashed)
    builders = tomllib.loads((ROOT / "pyproject.toml").read_text())["build-system"]["requires"]
    assert set(supply.runtime([Requirement(each) for each in builders])) == set(hashed)


def test_the_pins_with_hashes_are_the_pins_of_the_lock(supply):
    lock, hashed = pins(ROOT / "requirements.lock"), pins(supply.HASHED)
    assert {name: hashed[name] for name in hashed.keys() & lock} == {
        name: lock[name] for name in hashed.keys() & lock}
    declared = {canonicalize_name(item.name) for item in supply.declared()}
    assert declared <= hashed.keys()
    assert declared <= lock.keys()
    for block in re.split(r"\n(?=[A-Za-z])", supply.HASHED.read_text()):
        assert block.startswith("#") or "--hash=sha256:" in block, block[:60]


def imported():
    for top in ("etl", "dashboard", "demo_fleet"):
        for path in (ROOT / top).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Import):
                    yield from (alias.name.split(".")[0] for alias in node.names)
                elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                    yield node.module.split(".")[0]


def test_what_is_imported_is_declared_and_what_is_declared_is_used():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    declared = {canonicalize_name(Requirement(text).name) for text in project["dependencies"]}
    sources = importlib.metadata.packages_distributions()
    used = {canonicalize_name(sources[name][0]) for name in imported()
            if name not in sys.stdlib_module_names and name not in OURS}
    extra = {canonicalize_name(Requirement(text).name)
             for name, texts in project["optional-dependencies"].items() if name != "test"
             for text in texts}
    assert used - declared - extra == set()
    assert declared - used == NOT_BY_NAME


def test_the_bill_names_every_part_and_what_it_needs(supply, tmp_path, capsys):
    assert supply.main(["bill", str(tmp_path / "bill.json")]) == 0
    bill = json.loads((tmp_path / "bill.json").read_text())
    assert (bill["bomFormat"], bill["specVersion"]) == ("CycloneDX", "1.6")
    refs = [part["bom-ref"] for part in bill["components"]]
    own = bill["metadata"]["component"]["bom-ref"]
    assert len(set(refs)) == len(refs)
    assert {item["ref"] for item in bill["dependencies"]} == {*refs, own}
    assert all(each in refs for item in bill["dependencies"] for each in item["dependsOn"])
    assert any(ref.startswith("pkg:pypi/duckdb@") for ref in refs)
    assert bill == json.loads(json.dumps(supply.bill()))


def test_a_library_that_nobody_could_be_asked_about_is_not_called_sound(supply):
    report = {"dependencies": [
        {"name": "a", "version": "1", "vulns": [{"id": "X-1"}]}, {"name": "b", "version": "2"},
        {"name": "c", "skip_reason": "not found"}]}
    assert supply.judged(report) == (["a 1: X-1"], 2, 1)


@pytest.mark.parametrize(("told", "status", "words"), [
    (None, 0, "is not installed"),
    ("", 0, "cannot be reached"),
    ("late", 0, "cannot be reached"),
    ('{"dependencies": [{"name": "a", "skip_reason": "x"}]}', 0, "about any of 1 libraries"),
    ('{"dependencies": [{"name": "a", "version": "1", "vulns": []}]}', 0, "0 known weaknesses"),
    ('{"dependencies": [{"name": "a", "version": "1", "vulns": [{"id": "X"}]}]}', 1, "a 1: X")])
def test_a_check_without_network_neither_fails_nor_waits_and_a_weakness_fails(
        supply, monkeypatch, capsys, told, status, words):
    def run(*_, timeout, **__):
        assert timeout < 20
        if told == "late":
            raise subprocess.TimeoutExpired("pip-audit", timeout)
        return subprocess.CompletedProcess([], 1, stdout=told)

    monkeypatch.setattr(supply.importlib.util, "find_spec", lambda _: told is not None or None)
    monkeypatch.setattr(supply.subprocess, "run", run)
    assert supply.audit() == status
    assert words in capsys.readouterr().out
