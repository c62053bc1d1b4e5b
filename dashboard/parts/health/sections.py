"""Blocks of the page of data health: files, reasons, corrections, findings, doubts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard import grids, parts, words
from dashboard.parts.choice import WIDE
from dashboard.queries.edition import Row

MOST_FILES = 40
MOST_SOURCES = 4


def files_table(rows: Sequence[Row]) -> html.Table:
    """Return what became of every file: whole files refused first, then the newest."""
    head = ["File", "Loaded", "Rows", "Used", "Replaced", "Refused", "Read"]
    n = len(head) if any(row["message"] for row in rows) else len(head) - 1
    return parts.table(head[:n], [_file(row)[:n] for row in rows[:MOST_FILES]], className="files")


def _file(row: Row) -> list[Any]:
    name = html.Div([html.Strong(parts.file_name(row["source_file"] or "file not named")),
                     html.Div(_log(row["log"]) + (", entered in the pages" if row["is_entered"]
                                                  else ""), className="below")])  # fmt: skip
    loaded = html.Div([words.date(row["loaded_on"]), html.Div(
        f"exported {words.date(row['exported_on'])}" if row["exported_on"] else "",
        className="below")])  # fmt: skip
    if row["status"] == "refused":
        refused = html.Strong("whole file refused", className="attention")
        return [name, loaded, "not read", "none", "none", refused, row["message"] or ""]
    aside = [f"{row[key]:,} {text}" for key, text in (
        ("n_blank", "blank"), ("n_skipped", "left aside"),
        ("n_left_out", "left out as the mapping says")) if row[key]]  # fmt: skip
    count = _rows(row["n_refused"])
    refused = html.Strong(count, className="attention") if row["n_refused"] else count
    return [name, loaded, html.Div([_rows(sum(row[k] or 0 for k in ("n_clean", "n_superseded",
                                                                "n_refused"))),
                                    html.Div(", ".join(aside), className="below")]),
            _rows(row["n_clean"]), _replaced(row["n_superseded"]), refused,
            html.Span(row["message"] or "to the end",
                      className=None if row["message"] else "only-wide")]  # fmt: skip


def _rows(n: int | None) -> str:
    return f"{n:,}" if n else "none"


def _replaced(n: int | None) -> Any:
    """Return the rows replaced by others; on a phone only where there are any."""
    return f"{n:,}" if n else html.Span("none", className="only-wide")


def _log(name: str | None) -> str:
    return (name or "log not known").replace("_", " ")


def reasons_table(rows: Sequence[Row]) -> html.Table:
    """Return why rows were refused, how often, with an example and the cure."""
    head = ["Why", "How often", "Example", "What to do"]
    body: list[list[Any]] = [
        [
            parts.link(row["reason"], "/data-health", why=row["reason"])
            if row["reason"] else "not said",
            f"{words.count(row['n_faults'], 'fault')} in {words.count(row['n_files'], 'file')}",
            html.Span([f"{row['column_name']} " if row["column_name"] else "",
                       html.Code(row["example"]) if row["example"] else "empty cell"]),
            row["remedy"] or "see the row",
        ]
        for row in rows
    ]
    return parts.table(head, body, className="reasons")


def refused_columns() -> list[dict[str, Any]]:
    """Return the columns of the table of refused rows."""
    return [
        grids.column("source_file", "File and row", "TwoLines", called="file", minWidth=125),
        grids.column("value", "Cell", "TwoLines", called="cell", minWidth=105),
        grids.column("reason", "Why refused", "TwoLines", called="why", minWidth=125),
        grids.column("remedy", "What to do", "TwoLines", called="cure", minWidth=240,
                     **WIDE),
    ]


def refused_cells(rows: Sequence[Row]) -> list[dict[str, Any]]:
    """Return what the columns of the table of refused rows draw."""
    return [
        {
            "source_file": {"first": row["source_file"] or "file not named",
                            "below": (f"row {row['source_row']}, " if row["source_row"] else "")
                                     + _log(row["log"])},
            "value": {"first": row["value"] if row["value"] else "empty",
                      "below": row["column_name"] or "whole row"},
            "reason": {"first": row["reason"] or "not said"},
            "remedy": {"first": row["remedy"] or "see the row"},
        }
        for row in rows
    ]  # fmt: skip


def corrections_table(rows: Sequence[Row]) -> html.Table:
    """Return what was set right while reading."""
    head = ["File", "Column", "What was set right", "Cells", "Example"]
    body: list[list[Any]] = [
        [html.Div([parts.file_name(row["source_file"] or ""),
                   html.Div(_log(row["log"]), className="below")]),
         row["column_name"] or "whole file", row["what"] or "",
         words.count(row["n_cells"] or 0, "cell"),
         html.Code(row["example"]) if row["example"] else "none kept"]
        for row in rows
    ]  # fmt: skip
    return parts.table(head, body, className="corrections")


def exclusions_list(rows: Sequence[Row], files: Sequence[Row]) -> html.Ul:
    """Return why lives are left out, how many, and from which files most of them come."""
    return html.Ul([
        html.Li([
            html.Div([html.Span(row["exclusion"] or "not said"),
                      html.Span(words.count(row["n_lives"] or 0, "hose"))], className="row"),
            html.Div(_from_files([f for f in files if f["exclusion"] == row["exclusion"]]),
                     className="below"),
        ])
        for row in rows
    ], className="list")  # fmt: skip


def _from_files(files: Sequence[Row]) -> str:
    told = [f"{row['n_lives']:,} in {row['source_file']}" for row in files[:MOST_SOURCES]]
    more = len(files) - MOST_SOURCES
    return ", ".join(told) + (f", and {words.count(more, 'more file')}" if more > 0 else "")


def findings_list(rows: Sequence[Row]) -> html.Ul:
    """Return the oddities met while lives were built, with an example each."""
    return html.Ul([
        html.Li([
            html.Div([html.Strong(words.FINDINGS.get(row["finding"], row["finding"])
                                  or "not named"), html.Span(_found(row))], className="row"),
            html.Div(f"Such as: {row['example']}" if row["example"] else "", className="below"),
        ])
        for row in rows
    ], className="list")  # fmt: skip


def _found(row: Row) -> str:
    places = f", {words.count(row['n_places'], 'place')}" if row["n_places"] else ""
    return words.count(row["n_rows"], "row") + places


def doubts_list(rows: Sequence[Row]) -> html.Ul:
    """Return the doubts with what each would change, and the kinds of which there is no row."""
    items = [
        html.Li([html.Div([html.Strong(_large(row["doubt"])),
                           html.Span(words.count(row["n_rows"], "row"))], className="row"),
                 html.Div(_large(row["effect"] or "what it would change is not known") + ".",
                          className="below")])
        for row in rows if row["n_rows"]
    ]  # fmt: skip
    none = [row["doubt"] for row in rows if not row["n_rows"]]
    if none:
        items.append(html.Li(f"No row of these kinds: {', '.join(none)}.", className="absent"))
    return html.Ul(items, className="list")


def _large(text: str) -> str:
    return text[:1].upper() + text[1:]


def optional_list(rows: Sequence[Row]) -> html.Ul:
    """Return the logs that are not needed, and what each adds or would add."""
    return html.Ul([
        html.Li([html.Div([html.Strong(_log(row["log"])),
                           html.Span(words.count(row["n_rows"], "row") if row["n_rows"]
                                     else "not loaded yet")], className="row"),
                 html.Div(f"{'adds' if row['n_rows'] else 'would add'} {row['adds']}",
                          className="below")])
        for row in rows
    ], className="list")  # fmt: skip
