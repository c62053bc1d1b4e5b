"""Tags that a spreadsheet or a typed column turned into something else are told, never silent.

What spreadsheets make of 3-1, 1:30, 1.10 and long numbers: common practice, no source.
"""

import datetime as dt

import duckdb
import pytest

from tests.load.new_workbook import Styled, book
from tests.load.old_workbook import old_book

HEAD = ["installed_on", "service_point", "hose_id", "work_order", "age_at_installation"]
DAY = dt.datetime(2020, 1, 31)
MARCH = dt.datetime(2020, 3, 1)
ROWS = "select service_point, hose_id, work_order from raw.installations order by source_row"


def told(site):
    return {(column, what.split(":")[0], n, example) for column, what, n, example in site.rows(
        "select column_name, what, n_cells, example from raw.corrections")}


@pytest.mark.parametrize(("name", "made"), [
    ("installations.xlsx", lambda rows: book(rows)),
    ("installations.xls", lambda rows: old_book({"Hoses": rows})),
], ids=["present form", "old form"])
def test_days_truths_and_decimals_among_the_tags_of_a_workbook_are_told(site, name, made):
    site.write(name, made([
        HEAD, [DAY, MARCH, True, 1.1, 5.5], [DAY, MARCH, "H2", 7.0, 5.5],
        [DAY, "P3", False, "3-1", 5.5]]))
    site.load()
    assert site.rows(ROWS) == [
        ("2020-03-01", "true", "1.1"), ("2020-03-01", "H2", "7"), ("P3", "false", "3-1")]
    assert told(site) == {
        ("service_point", "days where a text is meant, read as text", 2, "2020-03-01"),
        ("hose_id", "true or false where a text is meant, read as text", 2, "true"),
        ("work_order", "tags stored as numbers with decimals", 1, "1.1")}


def test_times_among_tags_are_told_and_mapped_names_count_too(site):
    site.write("fitted.xlsx", book([
        ["Day", "Place", "Part of it"],
        [DAY, Styled(0.0625, "h:mm"), Styled(1.0625, "[h]:mm")]]))
    site.write("columns.toml", '[[file]]\nmatch = "fitted.xlsx"\nlog = "installations"\n'
               '[file.columns]\ninstalled_on = "Day"\nservice_point = ["Place", "Part of it"]\n')
    site.load()
    assert {item[:3] for item in told(site)} == {
        ("Place", "times where a text is meant, read as text", 1),
        ("Part of it", "times where a text is meant, read as text", 1)}


def test_a_column_of_days_or_numbers_is_no_column_of_tags(site):
    site.write("installations.xlsx", book([HEAD, [DAY, "P1", "H1", "W1", 5.5]]))
    site.load()
    assert told(site) == set()


def parquet(site, name, **columns):
    """Write one row a value; each column is a type and its values as the database reads them."""
    made = ", ".join(f"unnest({values!r}::varchar[])::{kind} as {column}"
                     for column, (kind, values) in columns.items())
    path = site.logs.parent / "made.parquet"
    with duckdb.connect() as con:
        con.execute(f"copy (select {made}) to '{path}' (format parquet)")
    site.write(name, path.read_bytes())
    site.load()


@pytest.mark.parametrize(("kind", "values", "texts", "what"), [
    ("date", ["2020-03-01"], ["2020-03-01"], "days where a text is meant, read as text"),
    ("timestamp", ["2020-03-01"], ["2020-03-01 00:00:00"],
     "days where a text is meant, read as text"),
    ("time", ["01:30:00"], ["01:30:00"], "times where a text is meant, read as text"),
    ("boolean", ["true"], ["true"], "true or false where a text is meant, read as text"),
    ("double", ["1.1", "2"], ["1.1", "2"], "tags stored as numbers with decimals"),
    ("decimal(9, 2)", ["1.1", "17"], ["1.10", "17"], "tags stored as numbers with decimals"),
    ("double", ["123456789012345678", "12"], ["123456789012345680", "12"],
     "numbers larger than their type keeps whole"),
    ("float", ["123456789", "12"], ["123456792", "12"],
     "numbers larger than their type keeps whole"),
])
def test_typed_columns_of_a_parquet_file_are_told_where_a_tag_is_meant(
        site, kind, values, texts, what):
    parquet(site, "installations.parquet", installed_on=("date", ["2020-01-31"] * len(values)),
            service_point=("varchar", ["P1"] * len(values)), hose_id=(kind, values))
    assert sorted(row[1] for row in site.rows(ROWS)) == sorted(texts)
    assert {item[:3] for item in told(site)} == {("hose_id", what, 1)}


@pytest.mark.parametrize(("kind", "values"), [
    ("bigint", ["123456789012345678"]), ("double", ["9007199254740991", "17"]),
    ("varchar", ["2020-03-01", "true"]), ("decimal(38, 0)", ["123456789012345678901234567890"]),
])
def test_tags_that_a_type_keeps_whole_are_not_told(site, kind, values):
    """9007199254740991 is the last whole number of which a double knows both neighbours."""
    parquet(site, "installations.parquet", installed_on=("date", ["2020-01-31"] * len(values)),
            service_point=("varchar", ["P1"] * len(values)), hose_id=(kind, values))
    assert sorted(row[1] for row in site.rows(ROWS)) == sorted(values)
    assert told(site) == set()


def test_numbers_keep_their_own_rules(site):
    parquet(site, "installations.parquet", installed_on=("date", ["2020-01-31"]),
            service_point=("varchar", ["P1"]), age_at_installation=("double", ["1.5"]))
    assert told(site) == set()


def test_large_doubles_are_written_with_all_their_digits(site):
    parquet(site, "installations.parquet", installed_on=("date", ["2020-01-31"] * 2),
            service_point=("varchar", ["P1"] * 2),
            hose_id=("double", ["123456789012345678", "1e30"]))
    assert not any("e" in row[1] for row in site.rows(ROWS))


def test_tags_in_powers_of_ten_are_told(site):
    site.write("installations.csv", "installed_on,service_point,hose_id,work_order\n"
               "2020-01-31,P1,1.23457E+17,E+12\n2020-01-31,P1,\"1,23457e+17\",1E5\n")
    site.load()
    assert told(site) == {
        ("hose_id", "tags written in powers of ten, as in 1.23457E+17", 2, "1,23457e+17")}


POWERS = ["12E3", "1E5", "1e5", "12E+3", "3E10", "0E1", "1E400", "7e-2"]
"""Tags of letters and digits that a spreadsheet's own form of shortening does not write: it has
two digits or more behind the sign (common practice, no source)."""


@pytest.mark.parametrize(("name", "made"), [
    ("installations.csv", lambda rows: "\n".join(
        ",".join("2020-01-31" if cell is DAY else f"{cell}" for cell in row) for row in rows)),
    ("installations.tsv", lambda rows: "\n".join(
        "\t".join("2020-01-31" if cell is DAY else f'"{cell}"' for cell in row) for row in rows)),
    ("installations.xlsx", lambda rows: book(rows)),
    ("installations.xls", lambda rows: old_book({"Hoses": rows})),
], ids=["csv", "quoted tsv", "present form", "old form"])
def test_tags_typed_as_texts_that_look_like_powers_stay_as_typed(site, name, made):
    site.write(name, made([HEAD[:4], *([DAY, tag, tag, tag] for tag in POWERS)]))
    site.load()
    assert site.rows(ROWS) == [(tag, tag, tag) for tag in POWERS]
    assert told(site) == set()


def test_such_tags_in_texts_of_a_parquet_file_stay_as_typed(site):
    parquet(site, "installations.parquet", installed_on=("date", ["2020-01-31"] * len(POWERS)),
            service_point=("varchar", POWERS), hose_id=("varchar", POWERS),
            work_order=("varchar", POWERS))
    assert site.rows(ROWS) == [(tag, tag, tag) for tag in POWERS]
    assert told(site) == set()


def test_true_and_false_among_tags_read_alike_from_workbook_text_and_parquet(site):
    """Another export of the same hoses must not make other hoses of them."""
    site.write("installations.xlsx", book([HEAD[:3], [DAY, "P1", True], [DAY, "P2", False]]))
    parquet(site, "installations_2.parquet", installed_on=("date", ["2020-01-31"] * 2),
            service_point=("varchar", ["P1", "P2"]), hose_id=("boolean", ["true", "false"]))
    assert set(site.rows("select service_point, hose_id from raw.installations")) == {
        ("P1", "true"), ("P2", "false")}
    assert {item[1:3] for item in told(site)} == {
        ("true or false where a text is meant, read as text", 2)}
