"""What was found out about an uploaded file, as a keeper reads it before loading it."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from typing import Any

from dash import html

from dashboard import parts, words

MOST_COLUMNS = 80
MOST_REFUSED = 40
EXAMPLE_SIGNS = 60
Report = Mapping[str, Any]


def found(report: Report) -> html.Div:
    """Return the blocks about one checked file.

    Parameters
    ----------
    report : mapping
        What ``braidlife check --json`` writes.
    """
    file = report["files"][0]
    return html.Div([
        parts.section("What was found", "", html.P(_sentence(report, file)),
                      *(html.P([html.B("Cannot be loaded as it is: "), text], className="caution")
                        for text in file["messages"]),
                      html.P(report["note"], className="caption") if report["note"] else None),
        _columns(file), _proposal(report), _preview(file), _corrections(file), _refused(report),
        html.P("Nothing was loaded or kept. To load it: braidlife load, with columns.toml beside "
               "the file where one is proposed.", className="caption"),
    ])  # fmt: skip


def _sentence(report: Report, file: Report) -> list[Any]:
    """Return how the file would fare."""
    logs = ", ".join(log.removesuffix("?").replace("_", " ") for log in file["logs"])
    guess = ", most likely" if any(log.endswith("?") for log in file["logs"]) else ""
    said: list[Any] = [html.B(file["file"]), f": {logs or 'no log recognised'}{guess}; "
                       f"{words.count(file['n_records'], 'record')} with its header."]
    for rows in file["rows"]:
        under = " under the proposed mapping" if file["proposal"] else ""
        said.append(f" Of {rows['log'].replace('_', ' ')}{under}, {rows['n_kept']:,} rows would "
                    f"stand, {rows['n_superseded']:,} repeat another, ")
        said.append(parts.strong(f"{rows['n_refused']:,} would be refused", rows["n_refused"] > 0))
        said.append(".")
    return said


def _columns(file: Report) -> html.Section | None:
    if not file["columns"]:
        return None
    body = [[
        html.B(_cut(look["name"])), file["taken_as"].get(look["name"], "left aside"),
        f"{look['looks_like']} {' or '.join(look['date_formats'])}".strip(),
        f"{look['n_filled']:,} filled, {look['n_different']:,} different",
        html.Code(", ".join(_cut(text) for text in look["examples"])),
    ] for look in file["columns"][:MOST_COLUMNS]]  # fmt: skip
    more = len(file["columns"]) - MOST_COLUMNS
    return parts.section(
        "What each column looks like", f"and {more} more" if more > 0 else "",
        parts.table(["Column", "Taken as", "Looks like", "Cells", "Examples"], body, "checked"))


def _proposal(report: Report) -> html.Section | None:
    if not report["proposal"]:
        return None
    text = report["proposal"].encode("utf-8")
    address = "data:text/plain;base64," + base64.b64encode(text).decode("ascii")
    return parts.section(
        "Proposed mapping", ["Put it beside the file and correct it where it is wrong. ",
                             html.A("columns.toml", href=address, download="columns.toml")],
        html.Pre(html.Code(report["proposal"])))


def _preview(file: Report) -> html.Section | None:
    """Return the first rows as they would be stored."""
    blocks: list[Any] = []
    for rows in file["rows"]:
        body = [[f"row {number}", "; ".join(f"{name.replace('_', ' ')} {_cut(str(cell))}"
                                            for name, cell in cells.items())]
                for number, cells in rows["preview"]]
        if body:
            blocks.append(parts.table([rows["log"].replace("_", " "), "As it would be stored"],
                                      body, "preview"))
    return parts.section("The first rows, typed", "", *blocks) if blocks else None


def _corrections(file: Report) -> html.Section | None:
    if not file["corrections"]:
        return None
    items = [html.Li([
        html.Div([html.Span([html.B(f"{item['column_name']} ") if item["column_name"] else "",
                             item["what"]]),
                  html.Span(words.count(item["n_cells"], "cell"))], className="row"),
        html.Div(_cut(item["example"] or ""), className="below"),
    ]) for item in file["corrections"]]  # fmt: skip
    return parts.section("What would be set right", "", html.Ul(items, className="list"))


def _refused(report: Report) -> html.Section:
    rows: Sequence[Report] = report["refused"]
    if not rows:
        return parts.section("What would be refused", "", parts.empty("no row"))
    n = report["n_faults"]
    caption = f"{words.count(n, 'fault')}" + (
        f", the first {MOST_REFUSED} of them" if n > MOST_REFUSED else "")
    body = [[f"row {row['source_row']}", row["column_name"] or "the row",
             html.Code(_cut(row["value"])) if row["value"] else "empty", row["reason"],
             row["remedy"]] for row in rows[:MOST_REFUSED]]
    return parts.section("What would be refused", caption, parts.table(
        ["Row", "Column", "Cell", "Why", "What to do"], body, "refused-checked"))


def _cut(text: str) -> str:
    """Return the beginning of a text that may be a whole page.

    Examples
    --------
    >>> len(_cut("x" * 5000)) <= EXAMPLE_SIGNS + 1
    True
    """
    return text if len(text) <= EXAMPLE_SIGNS else text[:EXAMPLE_SIGNS] + "…"
