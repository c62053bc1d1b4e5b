"""README names every command with its options, every column and page; settings say their reason."""

import re
from dataclasses import fields
from pathlib import Path

import pytest
from typer.main import get_command

from etl.cli import app
from etl.load.columns import LOGS
from etl.load.mapping import parse_mapping
from etl.settings import Settings
from tests.readme_tables import README, TABLES, reasons

TEXT = README.read_text(encoding="utf-8")
ROOT = Path(__file__).resolve().parent.parent
PAGES = ROOT / "dashboard" / "pages"
LINES = TEXT.splitlines()


def commands(group, above=""):
    """Return every command by its words, those of groups included."""
    found = {}
    for name, command in group.commands.items():
        words = f"{above}{name}"
        found |= commands(command, words + " ") if hasattr(command, "commands") else {
            words: command}
    return found


COMMANDS = commands(get_command(app))


@pytest.mark.parametrize("made", TABLES.values(), ids=TABLES)
def test_a_table_is_up_to_date(made):
    assert made() in TEXT, "run: python -m tests.readme_tables"


def test_all_commands_are_looked_at():
    assert {"load", "serve", "demo", "check", "export"} < set(COMMANDS)
    assert sum(words.startswith("account ") for words in COMMANDS) >= 3


@pytest.mark.parametrize("words", COMMANDS)
def test_every_command_is_described(words):
    assert re.search(rf"`braidlife {words}\b", TEXT)


def test_the_mapping_shown_can_be_read():
    (shown,) = re.findall(r"```toml\n(.*?)```", TEXT, re.DOTALL)
    assert parse_mapping(shown).file[0].log == "replacements"


@pytest.mark.parametrize("log", LOGS)
def test_every_log_is_described(log):
    assert f"**{log}**" in TEXT


def addresses():
    """Return the address of every page that registers one."""
    found = {}
    for path in PAGES.glob("*.py"):
        text = path.read_text(encoding="utf-8")
        if "register_page(" in text:
            found[path.stem] = re.findall(r'path(?:_template)?="(/[^"]*)"', text)
    return found


@pytest.mark.parametrize(("page", "found"), addresses().items(), ids=addresses())
def test_every_page_address_is_described(page, found):
    assert found or page == "not_found_404"  # which stands for every other address
    for address in found:
        pattern = "<[^>]+>".join(map(re.escape, re.split("<[^>]+>", address)))
        assert re.search(f"`{pattern}`", TEXT), address


@pytest.mark.parametrize("words", COMMANDS)
def test_every_option_is_described(words):
    near = [line for line in LINES if f"`braidlife {words}" in line]
    for option in COMMANDS[words].params:
        names = [name for name in (*option.opts, *option.secondary_opts) if name.startswith("--")]
        assert not names or any(
            re.search(rf"{name}(?![\w-])", line) for name in names for line in near
        ) or any(f"`{name}" in TEXT for name in names), names


def test_every_setting_says_its_reason():
    found = reasons()
    assert set(found) == {field.name for field in fields(Settings)}
    assert [name for name, reason in found.items() if len(reason.split()) < 2] == []


def test_no_page_is_longer_than_a_hundred_lines():
    for path in PAGES.glob("*.py"):
        assert len(path.read_text(encoding="utf-8").splitlines()) <= 100, path.name
