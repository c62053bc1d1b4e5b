"""Blocks of the page of data health: sentence, files, refused rows, what was set right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html

from dashboard import grids, parts, words
from dashboard.parts import choice as parts_choice
from dashboard.parts.health import sections as parts_health
from dashboard.queries.edition import Row
from dashboard.table_view import View

FILTERS = ("text", "log", "file", "why")
BALANCE = {
    "words": "Rows as read = used + replaced by a later or equal row + refused; the build stops "
    "when this does not hold. Left aside are rows above the header and rows of totals; left out as "
    "the mapping says are rows that its keep and skip take away from a log."
}
OTHER_READING = {
    "words": "Rows that can be read in two ways are counted. For the largest doubts the lives are "
    "estimated again under the other reading, with all else as it stands, and the change of B10 "
    "is shown. The dearest places are ranked anew by their failures under that reading, with the "
    "fits as they are, so their number is told as about."
}
EXCLUDED = {
    "words": "A hose stays out of the fits where its records leave no length of life, or none that "
    "was watched. It is counted here by the rule that kept it out, and shown at its place."
}
REFUSAL = {
    "words": "A row is refused when a cell cannot be read as declared, or rows contradict one "
    "another. It is kept here and never repaired silently."
}


def given(filters: Mapping[str, Any]) -> dict[str, str]:
    """Return the filters that are set."""
    return {name: str(filters[name]) for name in FILTERS if filters.get(name)}


def sentence(total: Row, info: Row, doubts: Sequence[Row]) -> list[Any]:
    """Return the sentence: how much stands, how much does not, the doubt that matters most."""
    if not total.get("n_files"):
        return [parts.strong("No file has been loaded into this edition.")]
    n_refused = info["n_refused"]
    out: list[Any] = [
        parts.strong(f"{total['n_clean']:,} of {words.count(total['n_records'], 'row')}"),
        f" in {words.count(total['n_files'], 'file')} are used; ",
        parts.strong(f"{n_refused:,} refused" if n_refused else "none refused", n_refused > 0),
        f", {words.count(total['n_corrected'], 'cell')} set right, "
        f"{words.count(info['n_excluded'], 'hose')} left out of the fits",
    ]
    if total["n_refused_files"]:
        out.append(f", {words.count(total['n_refused_files'], 'file')} refused whole")
    there = [doubt for doubt in doubts if doubt["n_rows"]]
    if not there:
        return [*out, "."]
    # Removals without a reason alone can turn suspensions into failures.
    first = next((d for d in there if d["doubt"] == "removals without a reason"), there[0])
    # How it is read stands below; here, what the other reading would change.
    rows = words.count(first["n_rows"], "row")
    said = _other_reading(first)
    most, joined, rest = said.partition(", and ")
    return [*out, f". Most in doubt are {first['doubt']} ({rows}): ", parts.strong(most),
            f"{joined}{rest}."]  # fmt: skip


def _other_reading(doubt: Row) -> str:
    """Return what the other reading of a doubt would change, where a figure tells it."""
    last = (doubt["effect"] or "").rpartition("; ")[2]
    said = any(word[:1].isdigit() for word in last.split())
    return last if said else "what it would change cannot be told in figures"


def context(total: Row, info: Row) -> list[Any]:
    """Return the counts under the sentence."""
    return [
        f"{words.count(total['n_superseded'], 'row')} replaced by a later or equal one"
        if total["n_superseded"] else "no row replaced by a later one",
        f"edition {info['edition']}",
        f"data to {words.date(info['as_of'])}",
        html.A("what was refused", href="#data-health-refused") if info["n_refused"] else None,
    ]  # fmt: skip


def files(rows: Sequence[Row], info: Row) -> html.Section:
    """Return what became of every file."""
    body: Any = parts_health.files_table(rows) if rows else parts.empty("No file was loaded.")
    more = len(rows) - parts_health.MOST_FILES
    rest = [html.P(f"and {more} more in the export", className="caption")] if more > 0 else []
    mark = parts.how(BALANCE, ["Replaced rows: ", parts.download_links("superseded")],
                     info["as_of"])  # fmt: skip
    is_whole = rows and not any(row["message"] for row in rows)
    to_the_end = " Each was read to the end." if is_whole else ""
    return parts.section("By file", [f"Rows as read, and what became of them.{to_the_end} ",
                                     parts.download_links("loads")], body, *rest, how=mark)


def doubts(rows: Sequence[Row], info: Row) -> html.Section:
    """Return what would change if the records hide something."""
    body: Any = parts_health.doubts_list(rows) if rows else parts.empty("No doubt was found.")
    more = ["What would change if the records hide something. By kind: ",
            parts.download_links("other_readings"), "; the dearest places: ",
            parts.download_links("other_ranks")]
    mark = parts.how(OTHER_READING, ["By kind: ", parts.download_links("other_readings")],
                     info["as_of"])
    return parts.section("Doubts", more, body, className="first", how=mark)


def refused(
    reasons: Sequence[Row], logs: Sequence[str], names: Sequence[str], n_rows: int,
    filters: Mapping[str, str], info: Row, view: View,
) -> html.Section:  # fmt: skip
    """Return the refused rows: by reason, and one by one with filters.

    Parameters
    ----------
    reasons : sequence of rows
    logs, names : sequence of str
        Logs and files that have refused rows.
    n_rows : int
        Rows that fit the filters.
    filters : mapping
        Filters of the address.
    info : row
        The edition.
    view : View
        Order and page of the address.
    """
    if not reasons:
        return parts.section("Refused rows", None, parts.empty("No row was refused."))

    def select(name: str, label: str, values: Sequence[str], every: str) -> dmc.Select:
        data = [{"value": "", "label": every}, *({"value": v, "label": v} for v in values)]
        return dmc.Select(id={"type": "data-health-filter", "index": name}, label=label,
                          data=data, value=filters[name], allowDeselect=False,
                          searchable=len(values) > 8, comboboxProps={"shadow": "none"})  # fmt: skip

    controls = [
        dmc.TextInput(id={"type": "data-health-filter", "index": "text"}, label="Text in the row",
                      value=filters["text"], debounce=300),
        select("log", "Log", logs, "All logs"),
        select("file", "File", names, "All files"),
        select("why", "Why", [r["reason"] for r in reasons if r["reason"]], "All reasons"),
        dcc.Store(id="data-health-address"),
    ]  # fmt: skip
    return parts.section(
        "Refused rows", ["Correct them in the log and load it again: nothing else is needed. ",
                         html.Span(parts.download_links("refused_rows", given(filters)),
                                   id="data-health-downloads")],
        parts_health.reasons_table(reasons),
        html.H3("One by one", className="sub"),
        html.Div(controls, className="filters", id="data-health-refused"),
        grids.grid("data-health-rows", parts_health.refused_columns(), label="Refused rows",
                   filters=filters, filter_names=FILTERS, page_rows=10, n_rows=n_rows, view=view),
        parts_choice.not_offered(view.faults),
        how=parts.how(REFUSAL, ["All refused rows: ", parts.download_links("refused")],
                      info["as_of"]),
    )  # fmt: skip


def corrections(rows: Sequence[Row]) -> html.Section:
    """Return what was recognised and set right while reading."""
    body: Any = parts_health.corrections_table(rows) if rows else parts.empty(
        "Nothing had to be set right while reading.")  # fmt: skip
    return parts.section("Set right while reading", ["Recognised without guessing. ",
                                                     parts.download_links("corrections")], body)


def optional(rows: Sequence[Row]) -> html.Section:
    """Return the logs that are not needed, and what each adds."""
    body: Any = parts_health.optional_list(rows) if rows else parts.empty(
        "Load files first: then this tells what each further log would add.")  # fmt: skip
    return parts.section("Logs beyond the needed ones",
                         "What each adds, or would add.", body)  # fmt: skip


def findings(rows: Sequence[Row]) -> html.Section:
    """Return the oddities met while lives were built."""
    body: Any = parts_health.findings_list(rows) if rows else parts.empty("Nothing odd was found.")
    return parts.section("Odd, but used",
                         ["Found while lives were built; these rows were not kept out. ",
                          parts.download_links("findings")], body)  # fmt: skip


def exclusions(rows: Sequence[Row], files: Sequence[Row], info: Row) -> html.Section:
    """Return why hoses stay out of the fits, and by which files."""
    body: Any = (parts_health.exclusions_list(rows, files) if rows
                 else parts.empty("Every hose is fitted."))  # fmt: skip
    mark = parts.how(EXCLUDED, ["By file: ", parts.download_links("exclusion_files")],
                     info["as_of"])
    return parts.section("Left out of the fits", ["Counted and shown, but without information on "
                         "life. ", parts.download_links("exclusion_files")], body,
                         how=mark)  # fmt: skip
