"""Planned work in words: the list of this month, the age of one place, the age of a kind."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from dash import html

from dashboard import parts, words
from dashboard.figures.axis import linear_axis
from dashboard.queries.edition import Row

MOST_LINES = 12
"""Lines shown at once; the work list holds them all."""
LEAST_LATER = 0.5
"""Changes of hoses put in meanwhile below which they are not spoken of."""
ORIGINS = {"recorded here": "as recorded here", "recorded in class": "as recorded in its class",
           "register": "by the register, without labour"}  # fmt: skip
PREVENTIVE = "preventive age"
"""Method of the ages that cost alone has set."""
CAUTION_WORK = (
    "Before this work:",
    "depressurise, drain, cool, isolate and lock out, prove zero, and mind energy stored in "
    "springs, loads and trapped media. A planned age is no safe life: hoses fail before it. "
    "Inspections and intervals that local codes, the maker's rating or licensed practice ask for "
    "stand above every date here.",
)


def due_list(rows: Sequence[Row], year: Row, how: Any, currency: str) -> html.Section:
    """Return the changes due within three months, grouped by line.

    Parameters
    ----------
    rows : sequence of rows of ``due``
        In order of line.
    year : row
        Counts over twelve months.
    how : component
        Mark that opens the method.
    currency : str
    """
    title = "Due in the next three months"
    if not rows:
        return parts.section(title, "", parts.empty(_nothing(year)), how=how)
    groups = [(key, list(group)) for key, group in groupby(rows, key=line_name)]
    # The longest stop first, equal ones by name.
    groups.sort(key=lambda item: (-len(item[1]), words.by_number(item[0])))
    shown = [_line(name, group, currency) for name, group in groups[:MOST_LINES]]
    rest = sum(len(group) for _, group in groups[MOST_LINES:])
    more = html.P(f"and {words.count(rest, 'hose')} on other lines, in the work list",
                  className="caption") if rest else None  # fmt: skip
    caption = [f"Grouped by line; {work_words(rows)}. The work list: ", parts.download_links("due")]
    rest_of_year = html.P(year_words(year, currency), className="caption after-list")
    return parts.section(title, caption, html.Div(shown, className="lines"), more, rest_of_year,
                         parts.caution(*CAUTION_WORK), how=how)


def _nothing(year: Row) -> str:
    """Say why nothing is due."""
    if not year["n_hoses"]:
        return "no hose is in service"
    if not year["n_set"]:
        return "no age pays at any place, and no interval is set: nothing is planned"
    return f"nothing; {words.count(year['n_due'], 'change')} within twelve months"


def line_name(row: Row) -> str:
    """Return the site and line of a place."""
    return ", ".join(filter(None, (row["site"], row["line"]))) or "no line recorded"


def work_words(rows: Sequence[Row]) -> str:
    """Return hoses and labour hours of some work.

    Examples
    --------
    >>> work_words([{"labour_h": 3.0, "is_overdue": True}, {"labour_h": None, "is_overdue": False}])
    '2 hoses, about 3 labour hours (not recorded for 1); 1 past its age already'
    """
    known = [row["labour_h"] for row in rows if row["labour_h"] is not None]
    said = words.count(len(rows), "hose")
    if known:
        missing = len(rows) - len(known)
        said += f", about {sum(known):,.0f} labour hours"
        said += f" (not recorded for {missing:,})" if missing else ""
    late = sum(bool(row["is_overdue"]) for row in rows)
    if late:
        said += f"; {late:,} past {'its' if late == 1 else 'their'} age already"
    return said


def _line(name: str, rows: Sequence[Row], currency: str) -> html.Details:
    """Return the work of one line, folded."""
    hours = [row["labour_h"] for row in rows if row["labour_h"] is not None]
    work = words.count(len(rows), "hose") + (f" · {sum(hours):,.0f} h" if hours else "")
    body = [
        [[parts.place_link(row["service_point"]), *parts.hazards(row["hazards"]),
          html.Div(" · ".join(filter(None, (row["part_number"], words.evidence(
              row["n_failures"] or 0, row["n_suspensions"] or 0)))), className="below")],
         [day_words(row), html.Div(f"{words.days(row['age_days'])} old", className="below")],
         [row["reason"], html.Div(saving_words(row, currency), className="below")
          if row["method"] == PREVENTIVE else None]]
        for row in rows
    ]  # fmt: skip
    return html.Details([html.Summary([html.Span(name), html.Span(work)]),
                         parts.table(["Place", "By", "Why"], body, "due")], className="fold line")


def day_words(row: Row) -> str:
    """Return by when a change is due, and in which shutdown."""
    day = row.get("due_on") or row.get("planned_on")
    if row["shutdown_first_on"] is not None:
        first, last = row["shutdown_first_on"], row["shutdown_last_on"]
        same = (first.year, first.month) == (last.year, last.month)
        span = f"{first.day if same else words.date(first)} to {words.date(last)}"
        return f"{words.date(day)}, in the shutdown of {span}"
    return "at the next chance" if row["is_overdue"] else words.date(day)


def saving_words(row: Row, currency: str) -> str:
    """Return what an age saves a year, with its range."""
    if row["saving_per_year"] is None:
        return ""
    lower, upper = (words.number(row[f"saving_per_year_{end}"]) for end in ("lower", "upper"))
    return (f"saves {words.money(row['saving_per_year'], currency)} a year "
            f"({lower} to {upper})")


def year_words(year: Row, currency: str) -> str:
    """Return the planned work of twelve months."""
    said = f"{words.count(year['n_due'], 'change')} within twelve months"
    if year["expected"] is not None:
        said += f"; about {words.number(year['expected'])} hoses will still be running on their day"
        later = (year["all_work"] or 0.0) - year["expected"]
        if later >= LEAST_LATER:
            said += (f", and about {words.number(later)} more will be changed that are put in "
                     "meanwhile")
    if year["cost"]:
        said += f", {words.money(year['cost'], currency)} of planned work"
    said += "."
    if year["is_late"]:
        said += (" Logs come late: a hose may have been changed already and no log says so yet. "
                 "Read its tag first; the count allows for it.")
    return said


def age_block(row: Row | None, how: Any, currency: str, *cautions: Any) -> html.Section | None:
    """Return when to change the hoses of a place or a kind, or the sentence why no age is set.

    Parameters
    ----------
    row : row of ``replacement_ages`` or ``preventive_ages``, or None
    how : component
        Mark that opens the method.
    currency : str
    *cautions : component
    """
    if row is None:
        return None
    known = words.evidence(row["n_failures"] or 0, row["n_suspensions"] or 0)
    caption = f"Of its kind: {known}. Dot = age of least cost, bar = ages that cost about the same."
    age = row["preventive_age_days"]
    if age is None:
        caption = f"Of its kind: {known}."
    items = html.Ul([html.Li(item) for item in age_words(row, currency)], className="list")
    return parts.section("When to change it before it fails", caption, _drawn(row), items,
                         *cautions, how=how)  # fmt: skip


def _drawn(row: Row) -> html.Div | None:
    """Return the age of least cost and the ages that cost about the same, on a line."""
    age, low, high = (row[k] for k in ("preventive_age_days", "flat_from_days", "flat_to_days"))
    if age is None:
        return None
    axis = linear_axis([high if high is not None else 2 * age], share=1.0)
    flat = words.spread(low, high, 3)
    label = f"least cost at {words.days(age)}; {flat} days cost about the same"
    drawn = parts.interval(age, low, high, axis, label=label, n_failures=row["n_failures"] or 0)
    return html.Div([drawn, parts.axis_header(axis, lambda tick: f"{tick:,.0f} d")])


def age_words(row: Row, currency: str) -> list[str]:
    """Return what is said of an age: the age and why, the day, saving, what it does not do."""
    said = [_ruling_words(row)]
    if row.get("planned_on") is not None:
        due = "It is past that age: change it at the next chance" if (
            row["is_overdue"] and row["shutdown_first_on"] is None) else f"Due {day_words(row)}"
        said.append(f"{due}; the hose there is {words.days(row['age_days'])} old.")
    if row["saving_per_year"] is not None:
        is_advised = row["preventive_age_days"] is not None
        lead = "That age " if is_advised else "Even the best age "
        chance = words.percent(min(row["saving_probability"], words.MOST_SURE))
        said.append(f"{lead}{saving_words(row, currency)}; a chance of {chance} that it saves "
                    "at all.")
    costs = (("a planned change", "cost_per_planned_change"), ("a failure", "cost_per_failure"))
    text = "; ".join(_cost_words(what, row[column], currency) for what, column in costs)
    origin = row.get("planned_cost_origin")
    if origin and row["cost_per_planned_change"] is not None:
        text += f"; the planned cost is {ORIGINS.get(origin, origin)}"
    said.append(text[0].upper() + text[1:] + ".")
    early = row["failing_before_probability"]
    if early is not None:
        said.append(f"Even so {words.percent(early)} of new hoses fail before that age: it is no "
                    "safe life.")
    return said


def _cost_words(what: str, cost: float | None, currency: str) -> str:
    if cost is None:
        return f"what {what} costs is not known"
    return f"{what} costs {words.money(cost, currency)}"


def _ruling_words(row: Row) -> str:
    """Return the age and why; a kind has no reason of its own, only a verdict."""
    if row.get("reason"):
        return row["reason"][0].upper() + row["reason"][1:] + "."
    if row["preventive_age_days"] is None:
        return f"No preventive age pays: {row['verdict']}."
    low, high = row["flat_from_days"], row["flat_to_days"]
    flat = words.spread(low, high, 3)
    return (f"Changing at {words.days(row['preventive_age_days'])} costs least; {flat} days cost "
            "about the same.")
