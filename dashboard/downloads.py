"""Any published table as CSV or XLSX, written so that a spreadsheet runs no formula."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, BinaryIO

import flask

from dashboard import units
from dashboard.queries import edition
from dashboard.queries.paged import PagedTable
from dashboard.queries.place import ROWS_AS_LOADED
from dashboard.queries.places import PLACES
from dashboard.report.book import month_book
from dashboard.report.page import month_page
from etl.sheets import Sheet, book, csv_lines

PUBLISHED = (
    "service_points", "ranking", "lives", "fits", "life_curves", "plot_points", "fit_tests",
    "clock_fits", "clock_curves", "clock_points",
    "cumulative_incidence", "life_comparisons", "mean_cumulative_failures", "recurrence_trends",
    "group_mean_failures", "group_trends",
    "forecast", "history", "trial_candidates", "trials",
    "trial_sizes", "trial_screens", "trial_log_rows", "trial_states", "trial_looks",
    "trial_stays", "trial_verdicts", "preventive_ages", "replacement_ages",
    "due", "planned_work", "plan_effect",
    "unknown_reasons", "spares", "order_list", "spares_what_if",
    "spares_budget", "spares_stand_ins", "refused", "superseded",
    "loads", "corrections", "findings", "exclusions", "exclusion_files", "doubts",
    "other_readings", "other_ranks", "log_rows", "cost_curve",
    "optional_logs", "method_notes", "formulas", "glossary",
    "log_columns", "place_survival", "free_survival",
    "edition",
    "teardown_evidence", "teardown_findings", "countermeasures", "finding_vocabulary",
    "place_screens",
    "track_forecasts", "track_scores", "track_flags",
)  # fmt: skip
"""Tables handed out whole, every row, every column."""

PAGED: dict[str, PagedTable] = {"places": PLACES, "rows_as_loaded": ROWS_AS_LOADED}
"""Tables of the pages, handed out under the filters of the address."""

METHOD_BESIDE = {"order_list": "spares"}
"""Tables whose workbook says on a second sheet, once, how their figures are made."""

AS_LOADED = ("rows_as_loaded", "log_rows", "log_columns", "refused", "corrections")
"""Tables that tell what the files hold, whose units are those of the files or of the catalogue."""

MOST_IN_A_WORKBOOK = 200_000
"""A workbook is packed whole before its first byte is sent, 20 s for so many rows; a CSV is not."""
TOO_LONG = ("{:,} rows are too many for a workbook ({:,} at most). Take the CSV, or filter the "
            "table first.")
PIECE = 65_536
"""Bytes of a workbook that are sent at once."""
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def install(app: flask.Flask) -> None:
    """Let the app hand out ``/download/<table>.csv`` and ``.xlsx``, and the month's report."""
    _install_report(app)

    @app.get("/download/<table>.<kind>")
    def download(table: str, kind: str) -> flask.Response:
        if kind not in ("csv", "xlsx") or (table not in PAGED and table not in PUBLISHED):
            flask.abort(404)
        try:
            as_of = edition.info()["as_of"]
            names, batches = units.export(*_rows(table), _system(table))
        except edition.EditionError as exc:
            return flask.Response(str(exc), status=503, mimetype="text/plain")
        if kind == "xlsx" and (n := _n_rows(table)) > MOST_IN_A_WORKBOOK:
            return flask.Response(TOO_LONG.format(n, MOST_IN_A_WORKBOOK), status=413,
                                  mimetype="text/plain")
        if kind == "csv":
            answer = flask.Response(csv_lines(names, batches), mimetype="text/csv")
        else:
            answer = flask.Response(_pieces(_workbook(table, names, batches)), mimetype=XLSX)
        name = f"{table}-{as_of.isoformat()}.{kind}"
        answer.headers["Content-Disposition"] = f"attachment; filename={name}"
        return answer


def _workbook(table: str, names: list[str], batches: Iterable[list[tuple[Any, ...]]]) -> BinaryIO:
    """Return a table as a workbook, with its method on a sheet of its own where one is due."""
    sheets = [Sheet(table, names, batches)]
    if table in METHOD_BESIDE:
        how = edition.method(METHOD_BESIDE[table])
        sheets.append(Sheet("how", ["title", "words"], [[(how["title"], how["words"])]]))
    return book(sheets)


def _pieces(file: BinaryIO) -> Iterator[bytes]:
    """Yield a file in pieces, and let it go at the end or when nobody reads on."""
    with file:
        while piece := file.read(PIECE):
            yield piece


def _install_report(app: flask.Flask) -> None:
    """Let the app hand out the month as one HTML file and as one workbook."""

    @app.get("/report.<kind>")
    def report(kind: str) -> flask.Response:
        if kind not in ("html", "xlsx"):
            flask.abort(404)
        try:
            month = edition.info()["as_of"].strftime("%Y-%m")
            content: str | bytes = month_page() if kind == "html" else month_book()
        except edition.EditionError as exc:
            return flask.Response(str(exc), status=503, mimetype="text/plain")
        answer = flask.Response(content, mimetype="text/html" if kind == "html" else XLSX)
        name = f"braidlife-{month}.{kind}"
        answer.headers["Content-Disposition"] = f"attachment; filename={name}"
        return answer


def _n_rows(table: str) -> int:
    """Return how many rows a file would have; the name was checked by the caller."""
    if table in PAGED:
        return PAGED[table].count(flask.request.args)
    return int(edition.ask(f"select count(*) as n from {table}")[0]["n"])


def _system(table: str) -> str:
    """Return the units of a download; rows as they were loaded stay as they were loaded."""
    return "si" if table in AS_LOADED else units.system()


def _rows(table: str) -> tuple[list[str], Iterable[list[tuple[Any, ...]]]]:
    """Return the columns and the rows in batches; the name was checked by the caller."""
    if table in PAGED:
        return PAGED[table].stream(flask.request.args)
    return edition.stream(f"select * from {table}")  # stored by its key: to sort takes memory
