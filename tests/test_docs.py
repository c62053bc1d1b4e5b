"""README names every command, column and page."""

import re
from pathlib import Path

import pytest

from etl.cli import app
from etl.load.columns import LOGS
from etl.load.mapping import parse_mapping
from tests.readme_tables import README, columns_table

TEXT = README.read_text(encoding="utf-8")
PAGES = Path(__file__).resolve().parent.parent / "dashboard" / "pages"


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
        for address in re.findall(r'path="(/[a-z-]*)"', path.read_text(encoding="utf-8")):
            assert f"`{address}" in TEXT, address
