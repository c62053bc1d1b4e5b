"""Every packaged SQL file is one short statement that makes the table it is named after."""

from __future__ import annotations

import re
from pathlib import Path

import duckdb
import pytest

from etl.load import seeds
from etl.load.columns import LOGS
from etl.load.mapping import TypingOptions
from etl.load.row_choice import clean_statement, faults_statement, repeated_statement
from etl.load.typed_rows import (
    cells_statement,
    hashed_statement,
    stored_columns,
    typed_statement,
)
from etl.load.warehouse import files_of
from etl.paths import resource

FILES = [pytest.param(layer, file, id=f"{layer}/{file.stem}")
         for layer in ("clean", "clean/places", "lives") for file in files_of(layer)]
ROOT = Path(__file__).parents[2]
UNORDERED = re.compile(
    r"\b(any_value|first|last|arg_max|arg_min|approx_\w+|reservoir_\w+|stddev\w*|corr|product)\s*\(")
"""Aggregates whose result can depend on the order of rows; arg_min and arg_max are looked at."""


@pytest.mark.parametrize(("layer", "file"), FILES)
def test_file_makes_the_table_it_is_named_after(layer, file):
    text = file.read_text(encoding="utf-8")
    table = f"{layer.split('/')[0]}.{file.stem.split('_', 1)[1]}"
    (statement,) = duckdb.connect().extract_statements(text)
    assert statement.type == duckdb.StatementType.CREATE
    assert text.startswith(f"-- {table}: one row")
    assert re.search(f"^create or replace (table|view) {table} as$", text, re.MULTILINE)
    assert len(text.splitlines()) <= 80


@pytest.mark.parametrize(("layer", "file"), FILES)
def test_file_depends_on_nothing_but_its_input(layer, file):
    text = re.sub(r"--[^\n]*", "", file.read_text(encoding="utf-8")).lower()
    assert not re.search(r"current_date|now\(\)|random\(|getvariable", text)
    for word in UNORDERED.findall(text):
        assert word in ("arg_max", "arg_min"), word
        assert not re.search(word + r"\([^()]*\)", text), "needs a unique key as its order"


@pytest.mark.parametrize("log", LOGS.values(), ids=LOGS)
def test_generated_statement_is_one_statement(log):
    groups = {1: TypingOptions(), 2: TypingOptions(("%d.%m.%Y", "%m/%d/%y"), ",", ".")}
    stored = stored_columns(log, groups, None)
    for text in (typed_statement(log, groups), cells_statement(log, stored), hashed_statement(log),
                 clean_statement(log), repeated_statement([log]), faults_statement([log])):
        (statement,) = duckdb.connect().extract_statements(text)
        assert statement.type == duckdb.StatementType.CREATE


@pytest.mark.parametrize("file", files_of("checks"), ids=lambda file: file.stem)
def test_check_is_one_query_with_a_comment(file):
    text = file.read_text(encoding="utf-8")
    (statement,) = duckdb.connect().extract_statements(text)
    assert statement.type == duckdb.StatementType.SELECT
    assert text.startswith("-- ")


def test_the_reference_tables_made_are_those_that_statements_read():
    packaged = resource("sql")
    code = [file for folder in ("etl", "dashboard")
            for file in (ROOT / folder).rglob("*.py") if file.name != "seeds.py"]
    named = {name for file in (*packaged.rglob("*.sql"), *code)
             for name in re.findall(r"\b(?:from|join) seeds\.(\w+)",
                                    file.read_text(encoding="utf-8"))}
    assert named == set(seeds.TABLES)
