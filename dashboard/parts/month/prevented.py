"""What the proposed plan prevents, in failures and in money, for those who decide on it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard import parts, words
from dashboard.figures.axis import linear_axis
from dashboard.queries.edition import Row

TITLE = "What this plan prevents"


def prevented_block(
    rows: Sequence[Row], lasting: Row, how: Any, currency: str
) -> html.Section | None:
    """Return the failures that the plan prevents; nothing where nothing is planned.

    Parameters
    ----------
    rows : sequence of rows of ``plan_effect``
        Of the fleet, by number of months.
    lasting : row
        What changes planned for their cost save a year in the long run.
    how : component or None
        Mark that opens the method.
    currency : str
    """
    rows = [row for row in rows if row["n_planned"]]
    if not rows:
        return None
    axis = linear_axis([row["prevented_upper"] for row in rows])
    body = [
        [words.count(row["n_months"], "month"),
         parts.interval(row["prevented"], row["prevented_lower"], row["prevented_upper"], axis,
                        label=failures_words(row)) if row["prevented_lower"] >= 0.0 else None,
         _two_lines(*_failures(row)), _two_lines(*_changes(row)),
         _two_lines(*_saved(row, currency)), _two_lines(*_added(row, currency))]
        for row in rows
    ]  # fmt: skip
    caption = ("Failures expected if hoses keep coming out as they do now, less those expected if "
               "the planned changes are made as well; dot = expected, bar = 90 % range.")
    head = ["Within", parts.axis_header(axis, "{:g}".format, "Failures prevented"),
            "Of all expected", "Planned changes", "Saved on failures", "Added work costs"]
    return parts.section(TITLE, caption, parts.table(head, body, "prevented"),
                         html.P(lasting_words(lasting, currency), className="caption"), how=how,
                         className="later")


def lasting_words(row: Row, currency: str) -> str:
    """Return what the table leaves out: what younger hoses save after these months.

    Examples
    --------
    >>> lasting_words({"n": 0}, "GBP")
    'What younger hoses save after these months is not counted.'
    """
    said = "What younger hoses save after these months is not counted"
    if not row["n"]:
        return f"{said}."
    span = words.spread(row["lower"], row["upper"], 3)
    return (f"{said}: in the long run the {words.count(row['n'], 'change')} planned for their cost "
            f"save about {words.money(row['saving'], currency)} a year ({span} if all their "
            "estimates err the same way).")


def failures_words(row: Row) -> str:
    """Return how many failures are prevented of how many, by how many changes.

    Examples
    --------
    >>> failures_words({"prevented": 6.2, "prevented_lower": 3.1, "prevented_upper": 9.8,
    ...     "failures_without_plan": 210.0, "n_planned": 41})
    '6.2 (3.1 to 9.8) of 210 forecast, by 41 changes'
    """
    span = words.spread(row["prevented_lower"], row["prevented_upper"])
    said = (f"{words.number(row['prevented'])} ({span}) of "
            f"{words.number(row['failures_without_plan'])} forecast, "
            f"by {words.count(row['n_planned'], 'change')}")
    return said if row["prevented_lower"] >= 0.0 else f"{said}; new hoses may fail sooner than old"


def _failures(row: Row) -> tuple[str, str]:
    """Return how many failures are prevented of how many, and the range."""
    span = words.spread(row["prevented_lower"], row["prevented_upper"])
    if row["prevented_lower"] < 0.0:
        span += "; new hoses may fail sooner than old"
    return (f"{words.number(row['prevented'])} of "
            f"{words.number(row['failures_without_plan'])}"), span


def _changes(row: Row) -> tuple[str, str]:
    """Return how many changes are planned, and how many come on top of those made anyway."""
    more = row["added_changes"]
    said = f"{words.number(abs(more))} {'more' if more > 0 else 'fewer'} than without the plan"
    return words.number(row["n_planned"]), said if more else ""


def _saved(row: Row, currency: str) -> tuple[str, str]:
    """Return what the failures prevented would have cost."""
    if not row["cost_prevented"]:
        return "not known", "no cost of a failure is known there"
    return (words.money(row["cost_prevented"], currency),
            words.spread(row["cost_prevented_lower"], row["cost_prevented_upper"], 3))


def _added(row: Row, currency: str) -> tuple[str, str]:
    """Return what the changes on top of those made anyway cost."""
    return (words.money(row["added_cost"], currency) if row["added_cost"] else "not known"), ""


def _two_lines(first: str, below: str) -> html.Div:
    return html.Div([html.Div(first), html.Div(below, className="below") if below else None])
