"""What the proposed plan prevents, in failures and in money, for those who decide on it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard import parts, words
from dashboard.figures.axis import linear_axis
from dashboard.queries.edition import Row

TITLE = "What this plan prevents"


def prevented_block(rows: Sequence[Row], how: Any, currency: str) -> html.Section | None:
    """Return the failures that the plan prevents; nothing where nothing is planned.

    Parameters
    ----------
    rows : sequence of rows of ``plan_effect``
        Of the fleet, by number of months.
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
         failures_words(row), money_words(row, currency)]
        for row in rows
    ]  # fmt: skip
    caption = ("Failures forecast with hoses coming out by habit alone, less those with the "
               "planned changes on top; dot = expected, bar = 90 % range of what is not known of "
               "the lives. A hose changed early also fails less in the years after.")
    head = ["Within", parts.axis_header(axis, words.number, "Failures"), "Failures prevented",
            "Worth, and work added"]
    return parts.section(TITLE, caption, parts.table(head, body, "prevented"), how=how)


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


def money_words(row: Row, currency: str) -> str:
    """Return what the failures prevented would have cost, and what the work added costs."""
    if not row["cost_prevented"]:
        return "no cost of a failure is known there"
    span = words.spread(row["cost_prevented_lower"], row["cost_prevented_upper"], 3)
    said = f"{words.money(row['cost_prevented'], currency)} of failures ({span})"
    if row["added_cost"]:
        said += (f"; {words.money(row['added_cost'], currency)} for "
                 f"{words.number(row['added_changes'])} changes more than by habit")
    return said
