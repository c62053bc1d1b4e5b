"""Each of the ten logs gives the same clean rows from every form of file in which it may come."""

import csv
import datetime as dt
import io

import duckdb
import pytest

from etl.load.columns import LOGS
from etl.load.typing import build_clean
from tests.load.new_workbook import book
from tests.load.old_workbook import old_book
from tests.sql.tiny import faulty

DAY = dt.datetime(2020, 2, 29)
ROWS = {
    "service_points": [{"service_point": "P-001", "application_class": "Größe, dampf", "dn": 25,
                        "pressure_bar": 12.5, "hazards": "hot; pressure", "records_from": DAY}],
    "constructions": [{"construction": "C1", "dn": 25, "corrugation": "annular", "wall_mm": 0.25}],
    "parts": [{"part_number": "0017", "construction": "C1", "unit_price": 99.5, "replaces": "17"}],
    "installations": [{"installed_on": DAY, "service_point": "P-001", "hose_id": "0170",
                       "part_number": "0017", "age_at_installation": 3}],
    "replacements": [{"removed_on": dt.datetime(2021, 3, 1), "service_point": "P-001",
                      "reason": "failed", "hose_id": "0170", "part_cost": 1234.5,
                      "planned": "no", "mechanism": "squirm"}],
    "inspections": [{"inspected_on": DAY, "service_point": "P-001", "condition": "good",
                     "note": 'says "ok"; no é'}],
    "teardowns": [{"examined_on": dt.datetime(2021, 3, 2), "hose_id": "0170", "finding": "loc_end",
                   "value": "yes"}],
    "usage": [{"equipment": "M1", "read_on": DAY, "clock": "run_hours", "reading": 1.25},
              {"equipment": "M1", "read_on": DAY, "clock": "cycles", "reading": 400}],
    "stock": [{"part_number": "0017", "as_of": DAY, "on_hand": 3}],
    "trials": [{"trial": "T1", "service_point": "P-001", "arm": "a", "construction": "C1",
                "started_on": DAY}],
}

OF_KIND = {"text": "Größe; dampf", "tag": "007", "date": DAY, "number": 2.5, "integer": 3,
           "money": 7.25, "yes_no": "yes"}


def filled(log):
    """Return a row in which every column has a cell; of places, those that the register knows."""
    cells = {column.name: OF_KIND.get(column.kind) or "; ".join(column.words[:2])
             for column in LOGS[log].columns if column.kind != "word"}
    cells |= {column.name: column.words[-1] for column in LOGS[log].columns
              if column.kind == "word"}
    own = {"service_point": "P-002" if log == "service_points" else "P-001",
           "early_failure_limit": 0.5, "deleted": "no"}
    return {column.name: own.get(column.name, cells[column.name]) for column in LOGS[log].columns}


for each in LOGS:
    ROWS[each].append(filled(each))


def table(log):
    """Return names and rows; a column that one row lacks is empty there."""
    names = list(dict.fromkeys(name for row in ROWS[log] for name in row))
    return [names, *([row.get(name) for name in names] for row in ROWS[log])]


def text(log, delimiter=",", encoding="utf-8", line_end="\n", *, junk=False):
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=delimiter, lineterminator=line_end)
    writer.writerows([["Hoses of the works"], [], ["printed on", "2020-03-01"], []] * junk)
    writer.writerows([cell.date() if isinstance(cell, dt.datetime) else cell for cell in row]
                     for row in table(log))
    width = len(table(log)[0])
    writer.writerows([[""] * width, ["end of the report", *[""] * (width - 1)]] * junk)
    return out.getvalue().encode(encoding)


def parquet(log, folder):
    names, *rows = table(log)
    columns = ", ".join(f'unnest(${name}) as "{name}"' for name in names)
    with duckdb.connect() as con:
        con.execute(f"copy (select {columns}) to '{folder / log}' (format parquet)",
                    {name: [row[i] for row in rows] for i, name in enumerate(names)})
    return (folder / log).read_bytes()


def wide(log, mark):
    return text(log, encoding=mark) if mark == "utf-16" else "\ufeff".encode(mark) + text(
        log, encoding=mark)


FORMS = {
    "comma": lambda log, _: (".csv", text(log)),
    "semicolon, Latin-1": lambda log, _: (".csv", text(log, ";", "latin-1", "\r\n")),
    "byte order mark": lambda log, _: (".csv", text(log, encoding="utf-8-sig")),
    "UTF-16, low byte first": lambda log, _: (".csv", wide(log, "utf-16-le")),
    "UTF-16, high byte first": lambda log, _: (".csv", wide(log, "utf-16-be")),
    "tab": lambda log, _: (".tsv", text(log, "\t")),
    "bar, returns only": lambda log, _: (".txt", text(log, "|", line_end="\r")),
    "rows above and below": lambda log, _: (".csv", text(log, junk=True)),
    "workbook": lambda log, _: (".xlsx", book(table(log))),
    "workbook from 1904": lambda log, _: (".xlsx", book(table(log), date_1904=True)),
    "workbook, rows above and below": lambda log, _: (".xlsx", book(
        [["Hoses of the works"], [], *table(log), [], ["end of the report"]], first_column=2)),
    "old workbook": lambda log, _: (".xls", old_book({"A": table(log)})),
    "old workbook from 1904": lambda log, _: (
        ".xls", old_book({"A": table(log)}, starts_1904=True)),
    "parquet": lambda log, folder: (".parquet", parquet(log, folder)),
}


def loaded(site, form, folder):
    for log in LOGS:
        ending, content = FORMS[form](log, folder)
        site.write(f"{log}{ending}", content)
    site.load()
    assert site.rows("select source_file, message from raw.loads where status <> 'loaded'") == []
    assert site.is_balanced()
    build_clean(site.con, site.groups)
    assert faulty(site.con, "clean_balance") == []
    return {log: site.rows(f"select {', '.join(name for name in LOGS[log].names[:-1])}"
                           f" from clean.{log} order by all") for log in LOGS}


@pytest.mark.parametrize("form", FORMS)
def test_every_log_gives_the_same_rows(site, form, tmp_path):
    found = loaded(site, form, tmp_path)
    assert site.rows("from clean.refused") == []
    for log, rows in found.items():
        names = LOGS[log].names[:-1]
        expected = []
        for row in ROWS[log]:
            cells = {name: typed(LOGS[log].column(name).kind, row.get(name)) for name in names}
            expected.append(tuple(cells[name] for name in names))
        assert sorted(rows, key=str) == sorted(expected, key=str), log


def typed(kind, cell):
    """Return a value as its column holds it."""
    if cell is None:
        return None
    return {"date": lambda: cell.date(), "yes_no": lambda: cell == "yes",
            "words": lambda: cell.split("; "), "number": lambda: float(cell),
            "money": lambda: pytest.approx(cell)}.get(kind, lambda: cell)()
