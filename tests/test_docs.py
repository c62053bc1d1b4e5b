"""README names every command with its options, every column and page; settings say their reason."""

import ast
import re
from pathlib import Path

import pytest
from typer.main import get_command

from etl.cli import app
from etl.load.columns import LOGS
from etl.load.mapping import parse_mapping
from tests.readme_tables import README, columns_table

TEXT = README.read_text(encoding="utf-8")
ROOT = Path(__file__).resolve().parent.parent
PAGES = ROOT / "dashboard" / "pages"
COMMANDS = [command for command in get_command(app).commands.values()
            if not hasattr(command, "commands")]


def test_the_columns_table_is_up_to_date():
    assert columns_table() in TEXT, "run: python -m tests.readme_tables"


@pytest.mark.parametrize("name", [command.callback.__name__ for command in app.registered_commands])
def test_every_command_is_described(name):
    assert f"`braidlife {name}" in TEXT


def test_the_mapping_shown_can_be_read():
    (shown,) = re.findall(r"```toml\n(.*?)```", TEXT, re.DOTALL)
    assert parse_mapping(shown).file[0].log == "replacements"


@pytest.mark.parametrize("log", LOGS)
def test_every_log_is_described(log):
    assert f"**{log}**" in TEXT


def test_every_page_address_is_described():
    for path in PAGES.glob("*.py"):
        found = re.findall(r'path(?:_template)?="(/[^"]*)"', path.read_text(encoding="utf-8"))
        for address in found:
            # One of many alike is described with its page of all.
            assert f"`{address.split('/<')[0]}" in TEXT, address


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.name)
def test_every_option_is_described(command):
    line = next(line for line in TEXT.splitlines() if f"`braidlife {command.name}" in line)
    for option in command.params:
        names = [name for name in (*option.opts, *option.secondary_opts) if name.startswith("--")]
        assert not names or any(name in line or f"`{name}`" in TEXT for name in names), names


def test_every_setting_says_its_reason():
    tree = ast.parse((ROOT / "etl" / "settings.py").read_text(encoding="utf-8"))
    (body,) = [node.body for node in tree.body
               if isinstance(node, ast.ClassDef) and node.name == "Settings"]
    fields = [number for number, node in enumerate(body) if isinstance(node, ast.AnnAssign)]
    assert len(fields) > 20
    for number in fields:
        after = body[number + 1] if number + 1 < len(body) else None
        assert isinstance(after, ast.Expr), ast.unparse(body[number])
        assert isinstance(after.value, ast.Constant), ast.unparse(body[number])


def test_no_page_is_longer_than_a_hundred_lines():
    for path in PAGES.glob("*.py"):
        assert len(path.read_text(encoding="utf-8").splitlines()) <= 100, path.name
