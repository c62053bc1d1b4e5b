"""Blocks of the page for one's own files: what is needed, files that wait, how far the job is."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import html

from dashboard import actions, parts, words
from dashboard.actions import incoming
from dashboard.parts.start import check as parts_check
from dashboard.parts.start import form as parts_start_map
from dashboard.record.screens import send
from dashboard.words import start as words_start

Report = Mapping[str, Any]


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
    blocks = [_file(number, file, chosen.get(file["file"])) for number, file in enumerate(files)]
    faults = parts_check.refused(report) if report["refused"] else None
    return [*said, *blocks, faults, _load(report)]


def _file(number: int, file: Report, choice: Any) -> html.Section:
    """Return one file: what was understood, the mapping to correct, the rows as they would be."""
    name = file["file"]
    fate = [html.Li(_fate(rows)) for rows in file["rows"]]
    messages = [html.P([html.B("Not yet: "), text], className="caution")
                for text in file["messages"]]
    remove = send("Remove this file", "remove", name, kind="quiet",
                  confirm="Press again to remove it")
    if not file["columns"]:
        return parts.section(f"3. {name}", "", *messages, html.Div(remove, className="back-next"))
    return parts.section(
        f"3. {name}", words.count(file["n_records"], "line") + ". Correct what was guessed wrong, "
        "then look again.",
        html.Ul(fate, className="list") if fate else None, *messages,
        parts_start_map.form(number, file, choice) if choice else None,
        html.Div([send("Look again", "choose", name, str(number), kind="main"), remove],
                 className="back-next"),
        html.Details([html.Summary("The first rows as they would be stored"),
                      parts_check.preview(file), parts_check.corrections(file)], className="fold"),
    )


def _fate(rows: Report) -> list[Any]:
    """Return what would become of the rows of a file in one log."""
    log = rows["log"].replace("_", " ")
    refused = parts.strong(f"{rows['n_refused']:,} refused", rows["n_refused"] > 0)
    repeats = (f", {words.count(rows['n_superseded'], 'row')} repeat another"
               if rows["n_superseded"] else "")
    used = f": {words.count(rows['n_kept'], 'row')} would be used, "
    return [html.B(log), used, refused, repeats]


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
