"""The hoses of one place on a time axis: one block a stay, drawn with plain elements."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from dash import html

from dashboard import words
from dashboard.queries.edition import Row

LABEL_FROM = 4.5
"""Width in percent from which on a block carries its days; on a phone from three times that."""


@dataclass(frozen=True)
class Span:
    """The time axis: first and last day."""

    first: dt.date
    last: dt.date

    def at(self, day: dt.date) -> float:
        """Return where a day lies, in percent, held within 0 and 100."""
        share = (day - self.first).days / max(1, (self.last - self.first).days)
        return round(100.0 * min(1.0, max(0.0, share)), 3)

    def years(self) -> list[dt.date]:
        """Return at most a dozen first days of years."""
        first = self.first.year + (self.first > dt.date(self.first.year, 1, 1))
        step = max(1, -(-(self.last.year - first + 1) // 12))
        return [dt.date(year, 1, 1) for year in range(first, self.last.year + 1, step)]


def span(stays: Sequence[Row], as_of: dt.date) -> Span:
    """Return an axis that holds every stay and a little beyond the data date."""
    first = min(row["installed_on"] for row in stays)
    room = max(30, (as_of - first).days // 40)
    return Span(first - dt.timedelta(days=room // 2), as_of + dt.timedelta(days=room))


def lanes(stays: Sequence[Row], as_of: dt.date) -> list[int]:
    """Return the lane of each stay: 0 unless another hose sat here at the same time.

    Examples
    --------
    >>> d = lambda n: dt.date(2024, 1, n)
    >>> lanes([{"installed_on": d(1), "removed_on": d(9)},
    ...        {"installed_on": d(9), "removed_on": None},
    ...        {"installed_on": d(12), "removed_on": None}], d(20))
    [0, 0, 1]
    """
    free_from: list[dt.date] = []
    out = []
    for row in stays:
        lane = next((i for i, d in enumerate(free_from) if d <= row["installed_on"]), None)
        if lane is None:
            lane = len(free_from)
            free_from.append(as_of)
        free_from[lane] = row["removed_on"] or as_of
        out.append(lane)
    return out


def timeline(stays: Sequence[Row], as_of: dt.date, records_from: dt.date | None) -> html.Div:
    """Return the drawing: blocks, end marks, years, and the ground before the records began.

    Parameters
    ----------
    stays : sequence of dict
        Oldest first, from the published lives of one place.
    as_of : date
        Data date, where a hose in service ends for now.
    records_from : date or None
        From when on removals were recorded; hatched before.
    """
    axis = span(stays, as_of)
    in_lane = lanes(stays, as_of)
    children: list[Any] = []
    if records_from and records_from > axis.first:
        children.append(html.Span(
            html.Span("before the records began"), className="unrecorded",
            style={"width": f"{axis.at(records_from)}%"},
        ))  # fmt: skip
    for row, lane in zip(stays, in_lane, strict=True):
        children += _stay(row, axis, as_of, lane)
    for year in axis.years():
        children.append(html.Span(str(year.year), className="year",
                                  style={"left": f"{axis.at(year)}%"}))  # fmt: skip
    height = 96 + 44 * max(in_lane)
    ends = [ending(row) for row in stays]
    label = f"{words.count(len(stays), 'hose')} on a time axis: " + "; ".join(ends[:40])
    return html.Div(
        children, className="timeline", role="img", style={"height": f"{height}px"},
        **{"aria-label": label},
    )  # fmt: skip


def ending(row: Row) -> str:
    """Return how long a hose stayed and how its stay ended, in words."""
    end = words.reason(row["removal_reason"])
    if row["kind"] == "interval" and row["last_seen_good_on"]:
        end += f", last seen good {words.date(row['last_seen_good_on'])}"
    if row["mechanism"] and row["mechanism"] != "unknown":
        end += f" by {words.mechanism(row['mechanism'])}"
    return f"{row['hose_id']}: {words.days(stay_days(row))} here, {end}"


def stay_days(row: Row, as_of: dt.date | None = None) -> float | None:
    """Return the days a hose sat here; of one in service, its age less what it brought along."""
    if row["removed_on"] is not None:
        return float((row["removed_on"] - row["installed_on"]).days)
    if as_of is not None:
        return float((as_of - row["installed_on"]).days)
    return row["age_low_days"]


def _stay(row: Row, axis: Span, as_of: dt.date, lane: int) -> list[html.Span]:
    """Return block, end mark and days of one stay."""
    left, right = axis.at(row["installed_on"]), axis.at(row["removed_on"] or as_of)
    width, top = right - left, 30 + 44 * lane
    kind = "open" if row["is_open"] else "nameless" if row["is_unknown_reason"] else ""
    title = ending(row)
    out = [html.Span(className=f"stay {kind}".strip(), title=title,
                     style={"left": f"{left}%", "width": f"{width:.3f}%", "top": f"{top}px"})]
    if row["kind"] == "interval":
        seen = axis.at(row["last_seen_good_on"] or row["installed_on"])
        out.append(html.Span(className="unseen", title=title, style={
            "left": f"{seen}%", "width": f"{max(0.0, right - seen):.3f}%", "top": f"{top}px"}))
    if not row["is_open"] and not row["is_unknown_reason"]:
        mark = {"failed": "failed", "interval": "found"}.get(row["kind"], "planned")
        out.append(html.Span(className=f"end {mark}", title=title,
                             style={"left": f"{right}%", "top": f"{top - 8}px"}))
    if row["is_open"]:
        age = f"in service, {stay_days(row, as_of):,.0f} d"
        out.append(html.Span(age, className="stay-now", style={
            "right": f"{100 - right:.3f}%", "top": f"{top - 22}px"}))
    elif width >= LABEL_FROM:
        days = f"{stay_days(row, as_of):,.0f} d"
        narrow = "" if width >= 3 * LABEL_FROM else " only-wide"
        out.append(html.Span(days, className=f"stay-days{narrow}", style={
            "left": f"{left}%", "width": f"{width:.3f}%", "top": f"{top + 18}px"}))
    return out  # fmt: skip
