"""What was found out about an uploaded file, as a keeper reads it before loading it."""

from __future__ import annotations

import base64
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from dash import html

from dashboard import parts, words

MOST_COLUMNS = 80
MOST_REFUSED = 40
EXAMPLE_SIGNS = 60
FEW = 3
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
        _columns(file), _proposal(report), preview(file), corrections(file), refused(report),
        html.P(["Nothing was loaded or kept. To load it: ", parts.link("load files", "/start"),
                ", or braidlife load with columns.toml beside the file where one is proposed."],
               className="caption"),
    ])  # fmt: skip


def _sentence(report: Report, file: Report) -> list[Any]:
    """Return how the file would fare."""
    if file["same_as"]:
        return [html.B(file["file"]), f": the same content as {file['same_as']}, read once."]
    logs = ", ".join(log.removesuffix("?").replace("_", " ") for log in file["logs"])
    guess = ", most likely" if any(log.endswith("?") for log in file["logs"]) else ""
    said: list[Any] = [html.B(file["file"]), f": {logs or 'no log recognised'}{guess}; "
                       f"{words.count(file['n_records'], 'record')} with its header."]
    for rows in file["rows"]:
        under = " under the proposed mapping" if file["proposal"] else ""
        said.append(f" Of {rows['log'].replace('_', ' ')}{under}, "
                    f"{words.count(rows['n_kept'], 'row')} would be used, "
                    + (f"{rows['n_superseded']:,} repeat another, " if rows["n_superseded"]
                       else ""))
        said.append(parts.strong(f"{rows['n_refused']:,} would be refused"
                                 if rows["n_refused"] else "none refused", rows["n_refused"] > 0))
        said.append(".")
    return said


def _columns(file: Report) -> html.Section | None:
    if not file["columns"]:
        return None
    body = [[
        html.B(_cut(look["name"])), file["taken_as"].get(look["name"], "left aside"),
        ", ".join(filter(None, (look["looks_like"], _day_forms(look["date_formats"])))),
        f"{look['n_filled']:,} filled, {look['n_different']:,} different",
        html.Code(", ".join(_cut(text) for text in look["examples"])),
    ] for look in file["columns"][:MOST_COLUMNS]]  # fmt: skip
    more = len(file["columns"]) - MOST_COLUMNS
    return parts.section(
        "What each column looks like", f"and {more} more" if more > 0 else "",
        parts.table(["Column", "Taken as", "Looks like", "Cells", "Examples"], body, "checked"))


def _day_forms(formats: Sequence[str]) -> str:
    """Return how days are written, in words.

    Examples
    --------
    >>> _day_forms(["%d/%m/%Y", "%Y-%m-%d %H:%M"])
    'day/month/year or year-month-day hour:minute'
    """
    names = {"%Y": "year", "%y": "year", "%m": "month", "%d": "day", "%b": "month",
             "%B": "month", "%H": "hour", "%M": "minute", "%S": "second"}
    return " or ".join(re.sub("%[A-Za-z]", lambda found: names.get(found[0], found[0]), text)
                       for text in formats)


def _proposal(report: Report) -> html.Section | None:
    if not report["proposal"]:
        return None
    text = report["proposal"].encode("utf-8")
    address = "data:text/plain;base64," + base64.b64encode(text).decode("ascii")
    return parts.section(
        "Proposed mapping", ["Put it beside the file and correct it where it is wrong. ",
                             html.A("columns.toml", href=address, download="columns.toml")],
        html.Pre(html.Code(report["proposal"])))


def preview(file: Report) -> html.Section | None:
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


def corrections(file: Report) -> html.Section | None:
    """Return what would be set right without asking."""
    if not file["corrections"]:
        return None
    items = [html.Li([
        html.Div([html.Span([html.B(f"{item['column_name']} ") if item["column_name"] else "",
                             item["what"]]),
                  html.Span(words.count(item["n_cells"], "cell"))], className="row"),
        html.Div(_cut(item["example"] or ""), className="below"),
    ]) for item in file["corrections"]]  # fmt: skip
    return parts.section("What would be set right", "", html.Ul(items, className="list"))


def refused(report: Report, cures: Mapping[str, str] | None = None,
            label: Callable[[str], str] = str) -> html.Section:
    """Return the rows that would be refused, alike ones together, with the reason and the cure.

    Parameters
    ----------
    report : mapping
    cures : mapping of str to str
        Reason to what to do about it on this page, where that is not what the report says.
    label : callable
        Gives the name of a column of ours as the page calls it.
    """
    rows: Sequence[Report] = report["refused"]
    if not rows:
        return parts.section("What would be refused", "", parts.empty("no row"))
    n = report["n_faults"]
    alike: dict[tuple[Any, ...], list[Report]] = {}
    for row in rows:
        key = tuple(row[name] for name in ("source_file", "column_name", "reason", "remedy"))
        alike.setdefault(key, []).append(row)
    shown = list(alike.items())[:MOST_REFUSED]
    told = sum(len(same) for _, same in shown)
    caption = words.count(n, "fault") + (f", the first {told} of them" if n > told else "")
    is_one = len({key[0] for key in alike}) == 1
    body = [[[*([] if is_one else [html.Div(file)]),
              _rows_named([row["source_row"] for row in same])],
             label(column) if column else "the row",
             _cells([row["value"] for row in same]), reason, (cures or {}).get(reason, remedy)]
            for (file, column, reason, remedy), same in shown]
    return parts.section("What would be refused", caption, parts.table(
        ["Rows", "Column", "Cells", "Why", "What to do"], body, "refused-checked"))


def _cells(values: Sequence[str | None]) -> Any:
    """Return a few different cells, and how many others there are."""
    different = list(dict.fromkeys(value for value in values if value))
    if not different:
        return "empty"
    more = len(different) - FEW
    out: list[Any] = []
    for value in different[:FEW]:
        out += [", "] * bool(out) + [html.Code(_cut(value))]
    return [*out, f" and {more} more" if more > 0 else ""]


def _rows_named(numbers: Sequence[int]) -> str:
    """Return the numbers of rows with one fault.

    Examples
    --------
    >>> _rows_named([9]), _rows_named([9, 21, 26, 38, 41])
    ('row 9', 'rows 9, 21, 26 and 2 more')
    """
    if len(numbers) == 1:
        return f"row {numbers[0]}"
    named = ", ".join(str(number) for number in numbers[:FEW])
    more = len(numbers) - FEW
    return f"rows {named}" + (f" and {more} more" if more > 0 else "")


def _cut(text: str) -> str:
    """Return the beginning of a text that may be a whole page.

    Examples
    --------
    >>> len(_cut("x" * 5000)) <= EXAMPLE_SIGNS + 1
    True
    """
    return text if len(text) <= EXAMPLE_SIGNS else text[:EXAMPLE_SIGNS] + "…"
