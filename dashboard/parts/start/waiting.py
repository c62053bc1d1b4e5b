"""Blocks of the page for one's own files: what is needed, files that wait, how far the job is."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from typing import Any

from dash import html

from dashboard import actions, parts, words
from dashboard.actions import incoming
from dashboard.parts.start import check as parts_check
from dashboard.parts.start import form as parts_start_map
from dashboard.record.screens import send
from dashboard.words import start as words_start

Report = Mapping[str, Any]
NOT_READ = "sheets not read"
ABSENT = "which the file does not have"
"""How the report tells of sheets beside the one that is read, and of columns that are not in it."""


def needs() -> html.Section:
    """Return the four logs, what each must hold and what it is for."""
    head = ["Log", "What it tells", "Columns it must have", "Needed for"]
    body = [[html.B(name), tells, holds, use] for name, tells, holds, use in words_start.LOGS]
    return parts.section(
        "1. What is needed",
        ["One spreadsheet with a line for each hose holds the first three at once; column names do "
         "not matter. Six more logs add to it: ", parts.link("columns of all logs", "/guide"), "."],
        parts.table(head, body, "needs"))


def demo_offer() -> html.Section | None:
    """Return the way to the invented fleet, or the way from it to one's own logs."""
    if incoming.has_edition():
        if not incoming.is_demo():
            return None
        return parts.section(
            "These pages show an invented fleet", "",
            html.Details([
                html.Summary("Start with my own logs instead"),
                html.P("The invented fleet and whatever was entered about it are moved into the "
                       "folder set-aside of the store. Nothing is deleted.", className="caption"),
                send("Set the invented fleet aside", "aside", kind="main"),
            ], className="fold"))
    return parts.section(
        "Or look around first",
        "Builds a fleet of 1,204 invented places in about half a minute. It can be set aside "
        "with one press when your own files are at hand.",
        send("Build the invented fleet", "demo"))


def work(report: Report, problem: str = "") -> list[Any]:
    """Return the files that wait, each with its mapping and what would become of its rows.

    Parameters
    ----------
    report : mapping
        Of all files that wait, as `actions_incoming.look_over` gives it.
    problem : str
        What could not be done, in words.
    """
    said: list[Any] = [html.P(problem, className="caution", role="alert")] if problem else []
    files = report["files"]
    if not files:
        return [*said, None if is_working() else demo_offer()]
    chosen = incoming.chosen()
    blocks = [_file(number, file, chosen.get(file["file"]),
                    [row for row in report["refused"] if row["source_file"] == file["file"]])
              for number, file in enumerate(files)]
    faults = (parts_check.refused(report, words_start.ABOVE, words_start.column_label)
              if report["refused"] else None)
    return [*said, *blocks, faults, _load(report), _by_hand()]


def _by_hand() -> html.Details:
    """Return what only the mapping file can say, closed: few need it."""
    address = "data:text/plain;base64," + base64.b64encode(
        incoming.mapping_file().encode("utf-8")).decode("ascii")
    body = [[html.Code(key), what, html.Pre(html.Code(lines))]
            for key, what, lines in words_start.BY_HAND]
    return html.Details([
        html.Summary("What only the mapping file can say"),
        html.P(["What is chosen above is the mapping file ",
                html.A("columns.toml", href=address, download="columns.toml"),
                ". It can say more: keep it beside the files in a folder, add the lines, and load "
                "the folder with ", html.Code("braidlife load FOLDER"), "; ",
                html.Code("braidlife check FOLDER"), " tells before what would become of it. "
                "Lines without brackets stand above the first [file. ...] line of their file."],
               className="caption"),
        parts.table(["Word", "What for", "Such as"], body, "by-hand"),
    ], className="fold")


def _file(number: int, file: Report, choice: Any, faults: Sequence[Report]) -> html.Section:
    """Return one file: what was understood, the mapping to correct, the rows as they would be."""
    name = file["file"]
    fate = [html.Li(_fate(rows)) for rows in file["rows"]]
    messages = [html.P([html.B("Not yet: "), text], className="caution")
                for text in _open(file, choice)]
    remove = send("Remove this file", "remove", name, kind="quiet",
                  confirm="Press again to remove it")
    if not file["columns"]:
        return parts.section(f"3. {name}", "", *messages, html.Div(remove, className="back-next"))
    return parts.section(
        f"3. {name}", words.count(file["n_records"], "line") + ". Correct what was guessed wrong, "
        "then look again.",
        html.Ul(fate, className="list") if fate else None, *messages,
        _told(file),
        parts_start_map.form(number, file, choice, faults) if choice else None,
        html.Div([send("Look again", "choose", name, str(number), kind="main"), remove],
                 className="back-next"),
        html.Details([html.Summary("The first rows as they would be stored"),
                      parts_check.preview(file)], className="fold"),
    )


def _told(file: Report) -> html.Ul | None:
    """Return what was found and set right while reading."""
    items = [item for item in file["corrections"] if item["what"] != NOT_READ]
    return html.Ul([html.Li([
        html.B(f"{words_start.column_label(item['column_name'])}: ") if item["column_name"] else "",
        f"{item['what']} ({item['n_cells']:,}",
        f", such as {item['example']})" if item["example"] else ")"]) for item in items],
        className="told") if items else None


def _open(file: Report, choice: Any) -> list[str]:
    """Return what keeps a file from being loaded; a column to be chosen is asked for as such."""
    sheets = [item["example"] for item in file["corrections"] if item["what"] == NOT_READ]
    if sheets and any(ABSENT in text for text in file["messages"]):
        return [words_start.SHEETS.format(sheets=sheets[0])]
    lacking = ([words_start.column_label(name) for name in incoming.needed_of(choice.kind)
                if name not in choice.columns] if choice and file["columns"] else [])
    if not lacking:
        return list(file["messages"])
    asked = ", ".join(f"“{name}”" for name in lacking)
    return [f"choose below which column of your file holds {asked}.",
            *(text for text in file["messages"] if "Required column" not in text)]


def _fate(rows: Report) -> list[Any]:
    """Return what would become of the rows of a file in one log."""
    log = words_start.LOG_NAMES.get(rows["log"], rows["log"].replace("_", " ").capitalize())
    refused = (parts.strong(f"{rows['n_refused']:,} refused", attention=True) if rows["n_refused"]
               else "none refused")
    left = f", {rows['n_left_out']:,} left out" if rows["n_left_out"] else ""
    repeats = (f", {words.count(rows['n_superseded'], 'row')} repeat another"
               if rows["n_superseded"] else "")
    used = f": {words.count(rows['n_kept'], 'row')} would be used, "
    return [html.B(log), used, refused, repeats, left]


def _load(report: Report) -> html.Section:
    """Return the last step: load, or what is missing."""
    missing = [words_start.ROW_KINDS[log] for log in incoming.missing()]
    open_ones = [file["file"] for file in report["files"] if file["messages"]]
    if missing:
        why = f"Still needed: rows that tell {'; '.join(missing)}."
    elif open_ones:
        why = f"First settle what is said above about {', '.join(open_ones)}."
    else:
        n = sum(rows["n_refused"] for file in report["files"] for rows in file["rows"])
        left = (f"{words.count(n, 'row')} would be refused and kept with the reason; the others "
                "count. " if n else "")
        return parts.section(
            "4. Load", f"{left}The files and their mapping are kept; a file of the same columns "
            "will be mapped alike next time.",
            send("Load and make the ranking", "load", kind="main"))
    return parts.section("4. Load", "", parts.empty(why))


def is_working() -> bool:
    """Tell whether an edition is being made."""
    return actions.progress().state in actions.WORKING


def progress() -> list[Any]:
    """Return how far the job is."""
    now = actions.progress()
    if is_working():
        number, plain = words_start.step_of(now.step)
        of = f"step {number} of {len(words_start.STEPS)}, " if number else ""
        so_far = f"; {round(now.seconds)} s so far" if now.seconds >= 1 else ""
        return [html.P([html.B("Making the ranking: "), f"{of}{plain}{so_far}. "
                        "This page goes on by itself."]),
                html.Progress(value=str(number), max=str(len(words_start.STEPS)),
                              **{"aria-label": "Steps done"})]
    if now.state == "failed":
        return [html.P([html.B("No ranking could be made: "), now.step], className="caution")]
    return []
