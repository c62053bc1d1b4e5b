"""Amounts with a decimal comma are read as declared, or refused with the line that declares it.

Kind of duckdb/duckdb #12856, #17093 and #6690 (decimal comma beside a point for thousands).
"""

import datetime as dt
from decimal import Decimal

import pytest

from etl.load.check import check_path
from etl.load.typing import build_clean

FILE = ("removed_on;service_point;reason;part_cost;downtime_h\n"
        "2020-01-31;P1;failed;2.345,60;12,5\n2020-02-01;P1;failed;87,00;6,75\n")
DECLARED = '[[file]]\nmatch = "replacements.csv"\nlog = "replacements"\ndecimal = ","\n'


def load(site, mapping=None, text=FILE):
    site.write("service_points.csv", "service_point,application_class\nP1,a\n")
    site.write("replacements.csv", text)
    if mapping is not None:
        site.write("columns.toml", mapping)
    site.load()
    build_clean(site.con, site.groups, dt.date(2021, 1, 1))
    return site.rows("select part_cost, downtime_h from clean.replacements order by removed_on")


def test_declared_marks_give_the_numbers(site):
    assert load(site, DECLARED + 'thousands = "."\n') == [
        (Decimal("2345.60"), 12.5), (Decimal("87.00"), 6.75)]


@pytest.mark.parametrize("mapping", [None, DECLARED], ids=["nothing declared", "comma only"])
def test_a_number_that_the_declaration_does_not_cover_is_left_out_with_the_cure(site, mapping):
    kept = load(site, mapping)
    assert [part for part, _ in kept] == [None, None if mapping is None else Decimal("87.00")]
    refused = site.rows("select source_row, column_name, value, remedy from clean.refused_cells"
                        " where column_name = 'part_cost' order by all")
    assert (2, "part_cost", "2.345,60",
            "Write digits only, or declare decimal and thousands in columns.toml.") in refused


def test_the_proposed_mapping_declares_the_marks_that_the_file_shows(site):
    site.write("replacements.csv", FILE)
    proposal = check_path(site.logs).proposal
    assert 'decimal = ","\nthousands = "."\n' in proposal
    assert load(site, proposal) == [(Decimal("2345.60"), 12.5), (Decimal("87.00"), 6.75)]


def test_marks_of_the_other_kind_are_read_as_declared(site):
    text = FILE.replace("2.345,60", "2,345.60").replace("12,5", "12.5").replace(
        "87,00", "87.00").replace("6,75", "6.75")
    mapping = DECLARED.replace('decimal = ","', 'decimal = "."\nthousands = ","')
    assert load(site, mapping, text) == [(Decimal("2345.60"), 12.5), (Decimal("87.00"), 6.75)]
