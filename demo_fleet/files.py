"""Write the logs as the sites would export them: the same rows give the same bytes."""

from __future__ import annotations

import csv
import datetime as dt
import shutil
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import xlsxwriter

Row = dict[str, Any]
MAPPING = Path(__file__).with_name("columns.toml")
SLASHES_FROM = dt.date(2022, 1, 1)
"""From then on Estwater writes its dates with slashes."""
CORE = {
    "installations": ("installed_on", "service_point", "hose_id", "part_number", "construction",
                      "age_at_installation", "work_order"),
    "replacements": ("removed_on", "service_point", "reason", "hose_id", "last_seen_good_on",
                     "mechanism", "part_cost", "labour_cost", "downtime_h", "other_cost",
                     "planned", "work_order"),
}


def cell(value: Any) -> str:
    """Return a value as our own export writes it."""
    if value is None:
        return ""
    return value.isoformat() if isinstance(value, dt.date) else str(value)


def write_table(path: Path, columns: Sequence[str], rows: list[Row], delimiter: str = ",") -> None:
    """Write a delimited text file with our own column names."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, delimiter=delimiter, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows([cell(row.get(column)) for column in columns] for row in rows)


def site_names(log: str, path_part: str) -> tuple[dict[str, str], dict[str, dict[str, str]]]:
    """Return our column -> the site's, and our word -> the site's, from the mapping file.

    The mapping is read rather than repeated, so that the export cannot drift from it.
    """
    mapping = tomllib.loads(MAPPING.read_text(encoding="utf-8"))
    entry = next(item for item in mapping["file"]
                 if item["log"] == log and item["match"].startswith(path_part))
    words = {column: {ours: theirs for theirs, ours in pairs.items()}
             for column, pairs in entry.get("words", {}).items()}
    return entry["columns"], words


def _their_word(words: dict[str, dict[str, str]], column: str, value: Any) -> Any:
    return words.get(column, {}).get(value, value)


def _dotted(value: Any) -> str:
    """Return a date as Estwater writes it."""
    if not isinstance(value, dt.date):
        return cell(value)
    return value.strftime("%d/%m/%Y" if value >= SLASHES_FROM else "%d.%m.%Y")


def _comma(value: Any, has_thousands: bool) -> str:
    """Return a number with a decimal comma, in money with dots between the thousands."""
    if not isinstance(value, float):
        return cell(value)
    text = f"{value:,.2f}" if has_thousands else f"{value:.1f}"
    return text.translate(str.maketrans(",.", ".,"))


def write_orders(path: Path, installed: list[Row], removed: list[Row]) -> None:
    """Write Estwater's list of hose orders: one line a hose put in or taken out."""
    ours_in, _ = site_names("installations", "estwater")
    ours_out, words = site_names("replacements", "estwater")
    header = ["Order", "Day", "Action", "Asset", "Serial", "Article", "Type", "Cause", "Found",
              "Last look", "Material £", "Work £", "Stop h", "Other £", "Foreseen", "Clerk"]
    lines = [(_order_key(row), _order_line(row, "OUT", ours_out, words)) for row in removed]
    lines += [(_order_key(row), _order_line(row, "IN", ours_in, {})) for row in installed]
    lines.sort(key=lambda item: item[0])
    with path.open("w", encoding="cp1252", newline="") as file:
        writer = csv.writer(file, delimiter=";", lineterminator="\r\n")
        writer.writerow(header)
        writer.writerows([line.get(name, "") for name in header] for _, line in lines)


def _order_key(row: Row) -> tuple[str, str, int]:
    return str(row["work_order"]), str(row["service_point"]), int("installed_on" in row)


def _order_line(row: Row, action: str, names: dict[str, str],
                words: dict[str, dict[str, str]]) -> dict[str, str]:
    line = {"Action": action, "Clerk": "nights" if int(row["work_order"][-1]) % 2 else "days"}
    for ours, theirs in names.items():
        value = _their_word(words, ours, row.get(ours))
        is_date = ours in ("installed_on", "removed_on", "last_seen_good_on")
        line[theirs] = _dotted(value) if is_date else _comma(value, ours != "downtime_h")
    return line


def write_book(path: Path, installed: list[Row], removed: list[Row]) -> None:
    """Write Haverlund's hose book: two sheets, a title row, a trailing total.

    The creation date is fixed, since a workbook otherwise differs from second to second.
    """
    book = xlsxwriter.Workbook(str(path))
    book.set_properties({"title": "Hose book (invented)", "created": dt.datetime(2026, 10, 31)})
    formats = {"date": book.add_format({"num_format": "dd/mm/yyyy"}),
               "bold": book.add_format({"bold": True})}
    for sheet, log, rows in (("Fitted", "installations", installed),
                             ("Removed", "replacements", removed)):
        _write_sheet(book.add_worksheet(sheet), log, rows, formats)
    book.close()


def _write_sheet(sheet: Any, log: str, rows: list[Row], formats: Row) -> None:
    names, words = site_names(log, "haverlund")
    header = [*names.values(), *(["Remark"] if log == "installations" else [])]
    sheet.write_string(0, 0, "Haverlund hose book", formats["bold"])
    for column, name in enumerate(header):
        sheet.write_string(2, column, name, formats["bold"])
    for number, row in enumerate(rows, start=3):
        for column, ours in enumerate(names):
            value = _their_word(words, ours, row.get(ours))
            _write_cell(sheet, number, column, value, row, formats)
    if log == "replacements":
        last = len(rows) + 3
        sheet.write_string(last, 0, "Total", formats["bold"])
        for ours in ("part_cost", "labour_cost"):
            total = sum(row[ours] for row in rows if isinstance(row[ours], float))
            sheet.write_number(last, list(names).index(ours), round(total, 2), formats["bold"])


def _write_cell(sheet: Any, number: int, column: int, value: Any, row: Row, formats: Row) -> None:
    """Write a cell by its kind; some dates are bare serial numbers, some 1900 ones are text."""
    if value is None or value == "":
        return
    if isinstance(value, dt.date) and value.year > 1900:
        if row.get("_serial") and column == 0:
            sheet.write_number(number, column, (value - dt.date(1899, 12, 30)).days)
        else:
            sheet.write_datetime(number, column, dt.datetime(value.year, value.month, value.day),
                                 formats["date"])
    elif isinstance(value, float):
        sheet.write_number(number, column, value)
    else:
        sheet.write_string(number, column, cell(value))


def copy_mapping(folder: Path) -> None:
    """Put the mapping file beside the logs."""
    shutil.copyfile(MAPPING, folder / MAPPING.name)
