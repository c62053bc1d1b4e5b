"""Amounts that bear the mark of their currency: read where it is declared, never as another."""

import tomllib

import pytest

from etl.load.check import check_path, write_proposal
from etl.load.look import look
from etl.load.mapping import parse_mapping
from etl.load.typing import build_clean

HEAD = "removed_on,service_point,reason,part_cost\n2020-01-01,P1,failed,{}\n"
ENTRY = '[[file]]\nmatch = "replacements.csv"\nlog = "replacements"\n'
OTHER = "bears the mark of a currency that is not declared for it"


def looked(name, *cells):
    return look(name, [(cell, 1) for cell in cells], len(cells), len(cells))


def read(site, mapping, cell):
    site.write("columns.toml", mapping)
    site.write("service_points.csv", "service_point,application_class\nP1,a\n")
    site.write("replacements.csv", HEAD.format(cell))
    site.load()
    build_clean(site.con, site.groups)
    return site.con.execute(
        "select (select part_cost::varchar from clean.replacements),"
        " (select what from raw.corrections where column_name = 'part_cost')").fetchone()


@pytest.mark.parametrize(("declared", "cell", "amount"), [
    ('currency = "EUR"', "€ 12.50", "12.50"), ('currency = "EUR"', "12.50 EUR", "12.50"),
    ('currency = "EUR"', "12.50\u00a0€", "12.50"), ('currency = "EUR"', "eur12.50", "12.50"),
    ('currency = "EUR"', "$12.50", None), ('currency = "EUR"', "12.50 USD", None),
    ('currency = "EUR"', "€ 12.50 €", None), ('currency = "EUR"', "€", None),
    ('currency = "CAD"', "$12.50", "12.50"), ("", "€12.50", None), ("", "12.50", "12.50"),
])
def test_an_amount_is_read_only_beside_the_mark_that_is_declared(site, declared, cell, amount):
    assert read(site, declared, cell)[0] == amount


def test_a_mark_that_is_not_declared_is_named_as_the_reason(site):
    assert OTHER in read(site, 'currency = "EUR"', "$12.50")[1]


def test_the_mark_of_a_file_and_its_rate_go_together(site):
    mapping = 'currency = "EUR"\n[rates]\nUSD = 0.5\n' + ENTRY + 'currency = "USD"\n'
    assert read(site, mapping, "$ 12.50")[0] == "6.25"


@pytest.mark.parametrize(("name", "cells", "expected"), [
    ("Kosten (€)", ("12,50", "1.212,50"), ("EUR", ",", ".")),
    ("Price EUR", ("12.50", "3"), ("EUR", ".", "")),
    ("Preis [EUR]", ("EUR 12.50", "EUR 3"), ("EUR", ".", "")),
    ("Paid", ("$1,212.00", "$3.00"), ("USD", ".", ",")),
    ("Paid", ("1'212.00 CHF", "3.00 CHF"), ("CHF", ".", "'")),
    ("Paid", ("1\u2019212.00", "3.00"), ("", ".", "\u2019")),
    ("Paid", ("1 212,00 kr", "3,00 kr"), ("NOK", ",", " ")),
    ("Paid", ("1\u202f212,00 €", "3,00 €"), ("EUR", ",", "\u202f")),
])
def test_amounts_are_known_by_their_marks(name, cells, expected):
    found = looked(name, *cells)
    assert found.looks_like == "numbers"
    assert (found.currency, found.decimal, found.thousands) == expected


@pytest.mark.parametrize("cells", [("KR100", "KR101"), ("EUR1", "EUR2"), ("CHF-1", "CHF-2")])
def test_tags_are_no_amounts(cells):
    assert looked("Tag", *cells).looks_like == "text"


@pytest.mark.parametrize("name", ["Price EUR", "Kosten (€)", "Preis [EUR]", "Coût EUR", "Cost, €"])
def test_a_column_of_amounts_is_proposed_with_its_currency_and_loads(site, name):
    site.write("service_points.csv", "service_point,application_class\nP1,a\n")
    site.write("replacements.csv", f'removed_on,service_point,reason,"{name}"\n'
               "2020-01-01,P1,failed,€ 12.50\n2020-01-02,P1,failed,€ 3.00\n")
    report = check_path(site.logs)
    entry = tomllib.loads(report.proposal)["file"][0]
    assert (entry["columns"]["part_cost"], entry["currency"]) == (name, "EUR")
    write_proposal(site.logs, report)
    site.load()
    build_clean(site.con, site.groups)
    assert site.con.execute("select sum(part_cost)::varchar from clean.replacements"
                            ).fetchall() == [("15.50",)]


def test_the_only_currency_that_files_state_is_the_reporting_one():
    assert parse_mapping(ENTRY + 'currency = "EUR"\n').currency == "EUR"
