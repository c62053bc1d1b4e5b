"""Any published table as CSV or XLSX, written so that a spreadsheet runs no formula."""

from __future__ import annotations

import csv
import datetime as dt
import decimal
import io
import tempfile
from collections.abc import Iterable, Iterator
from typing import Any

import flask
import xlsxwriter

from dashboard.queries import edition
from dashboard.queries.paged import PagedTable
from dashboard.queries.place import ROWS_AS_LOADED
from dashboard.queries.places import PLACES

PUBLISHED = (
    "service_points", "ranking", "lives", "fits", "life_curves", "plot_points", "fit_tests",
    "cumulative_incidence", "forecast", "history", "trial_candidates", "trials", "spares",
    "refused", "superseded", "loads", "corrections", "findings", "exclusions", "doubts",
    "log_rows", "cost_curve", "optional_logs", "method_notes", "edition",
)  # fmt: skip
"""Tables handed out whole, every row, every column."""

PAGED: dict[str, PagedTable] = {"places": PLACES, "rows_as_loaded": ROWS_AS_LOADED}
"""Tables of the pages, handed out under the filters of the address."""

RUNS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
CELL_LIMIT = 32_767
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def safe_text(text: str) -> str:
    """Return a text that no spreadsheet reads as a formula.

    Examples
    --------
    >>> safe_text("=1+1"), safe_text("HD-2"), safe_text(" @SUM(A1)")
    ("'=1+1", 'HD-2', "' @SUM(A1)")
    """
    return "'" + text if text.lstrip(" ").startswith(RUNS) else text


def plain(value: Any) -> Any:
    """Return a cell as a number or a safe text; an unknown value is empty."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (list, tuple)):
        return safe_text(", ".join(str(item) for item in value))
    if isinstance(value, decimal.Decimal):
        return float(value)
    if isinstance(value, (int, float)):
        return value if value == value and abs(value) != float("inf") else ""
    if isinstance(value, dt.date):
        return value.isoformat()
    return safe_text(str(value))


def install(app: flask.Flask) -> None:
    """Let the app hand out ``/download/<table>.csv`` and ``/download/<table>.xlsx``."""

    @app.get("/download/<table>.<kind>")
    def download(table: str, kind: str) -> flask.Response:
        if kind not in ("csv", "xlsx") or (table not in PAGED and table not in PUBLISHED):
            flask.abort(404)
        try:
            as_of = edition.info()["as_of"]
            names, batches = _rows(table)
        except edition.EditionError as exc:
            return flask.Response(str(exc), status=503, mimetype="text/plain")
        if kind == "csv":
            answer = flask.Response(csv_lines(names, batches), mimetype="text/csv")
        else:
            answer = flask.Response(workbook(table, names, batches), mimetype=XLSX)
        name = f"{table}-{as_of.isoformat()}.{kind}"
        answer.headers["Content-Disposition"] = f"attachment; filename={name}"
        return answer


def _rows(table: str) -> tuple[list[str], Iterable[list[tuple[Any, ...]]]]:
    """Return the columns and the rows in batches; the name was checked by the caller."""
    if table in PAGED:
        return PAGED[table].stream(flask.request.args)
    return edition.stream(f"select * from {table} order by all")


def csv_lines(names: list[str], batches: Iterable[list[tuple[Any, ...]]]) -> Iterator[str]:
    """Yield a CSV file in pieces, with a byte order mark so that spreadsheets read UTF-8."""
    buffer = io.StringIO()
    writer = csv.writer(buffer)
    buffer.write("\ufeff")
    writer.writerow([safe_text(name) for name in names])
    for batch in batches:
        writer.writerows([plain(value) for value in row] for row in batch)
        yield buffer.getvalue()
        buffer.seek(0)
        buffer.truncate()
    yield buffer.getvalue()


def workbook(title: str, names: list[str], batches: Iterable[list[tuple[Any, ...]]]) -> bytes:
    """Return an XLSX file with one sheet; text stays text, dates are dates."""
    with tempfile.TemporaryFile() as handle:
        book = xlsxwriter.Workbook(
            handle,
            {
                "constant_memory": True,
                "strings_to_formulas": False,
                "strings_to_urls": False,
                "strings_to_numbers": False,
                "nan_inf_to_errors": False,
            },
        )
        sheet = book.add_worksheet(title[:31])
        date_format = book.add_format({"num_format": "yyyy-mm-dd"})
        sheet.freeze_panes(1, 0)
        sheet.write_row(0, 0, names, book.add_format({"bold": True}))
        line = 0
        for batch in batches:
            for row in batch:
                line += 1
                for place, value in enumerate(row):
                    _put(sheet, line, place, value, date_format)
        book.close()
        handle.seek(0)
        return handle.read()


def _put(sheet: Any, line: int, place: int, value: Any, date_format: Any) -> None:
    """Write one cell by its kind, so that nothing is guessed from a text."""
    if isinstance(value, dt.date):
        sheet.write_datetime(line, place, value, date_format)
        return
    cell = plain(value)
    if isinstance(cell, str):
        if cell:
            sheet.write_string(line, place, cell[:CELL_LIMIT])
    else:
        sheet.write_number(line, place, cell)
