"""The blocks of the page of this month: rows in, components out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from dash import html

from dashboard import parts, words
from dashboard.figures.axis import Axis, linear_axis
from dashboard.figures.month import cost_by_month
from dashboard.queries.edition import Row
from dashboard.queries.month import is_whole_month
from dashboard.words.late import late_failures


@dataclass(frozen=True)
class Scale:
    """The unit money is shown in: one, or a thousand of the reporting currency."""

    factor: float
    long: str
    short: str

    def written(self, value: float | None) -> str:
        """Return an amount in this unit, without the unit."""
        return words.number(None if value is None else value / self.factor, 3)


def money_scale(amounts: Sequence[float | None], currency: str) -> Scale:
    """Return thousands when the largest amount needs five digits, else ones."""
    sign = words.CURRENCIES.get(currency, currency)
    if max((a for a in amounts if a is not None), default=0.0) >= 10_000:
        return Scale(1000.0, f"{sign} thousand", f"{sign} k")
    return Scale(1.0, sign, sign)


def sentence(out: Row, before: Row, dearest: Row | None, edition: Row) -> html.H1:
    """Return what happened this month against what was to be expected, and where it cost."""
    month, as_of = words.month_name(out["month"]), edition["as_of"]
    when = f"In {month} " if is_whole_month(as_of) else f"In {month}, up to the {as_of.day}th, "
    when = when.replace(" 1th", " 1st").replace(" 2th", " 2nd").replace(" 3th", " 3rd")
    when = when.replace(" 21th", " 21st").replace(" 22th", " 22nd").replace(" 23th", " 23rd")
    n_out, n_failed = out["n_removed"], out["n_failed"]
    if not n_out:
        return parts.headline(when, parts.strong("no hose came out"), ".")
    many, hint = _against(n_failed, out, before)
    failed = {0: "none of them failed", n_out: "all of them failed"}.get(
        n_failed, f"{n_failed:,} of them failed"
    )
    if n_out == 1:
        failed = "and it failed" if n_failed else "and it had not failed"
    return parts.headline(
        when, parts.strong(words.count(n_out, "hose")), " came out" + (" " if n_out == 1 else ", "),
        parts.strong(failed, attention=many), hint, ".", *_where(dearest, out, edition),
    )  # fmt: skip


def _against(n_failed: int, out: Row, before: Row) -> tuple[bool, str]:
    """Return whether that is above expectation, and the words that say against what."""
    if out.get("mean") is not None:
        span = words.kept(words.spread(out["lower"], out["upper"]))
        return n_failed > out["upper"], f" — forecast was {words.number(out['mean'])} ({span})"
    if before.get("n_months"):
        n_months = before["n_months"]
        months = "twelve months" if n_months == 12 else words.count(n_months, "month")
        span = words.kept(f"{before['least']:,} to {before['most']:,}")
        mean = words.number(before["mean"])
        return n_failed > before["most"], f" — the {months} before saw {mean} a month ({span})"
    return False, ""


def _where(dearest: Row | None, out: Row, edition: Row) -> list[Any]:
    """Return the line where most money went."""
    if not dearest or not out.get("cost"):
        return []
    cost = parts.strong(words.money(dearest["cost"], edition["currency"]))
    if dearest["cost"] >= 0.4 * out["cost"]:
        return [f" {dearest['scope_name']} alone cost ", cost, "."]
    return [f" The dearest line was {dearest['scope_name']} at ", cost, "."]


def context(edition: Row) -> html.P:
    """Return counts, and what was left out, with the way to it."""
    refused = parts.link("see them", "/data-health")
    return parts.context_line(
        words.count(edition["n_service_points"], "place"),
        words.count(edition["n_in_service"], "hose") + " in service",
        f"{edition['n_failures']:,} of {words.count(edition['n_lives'], 'hose')} on record failed",
        late_failures(edition),
        html.Span([words.count(edition["n_refused"], "log row"), " refused ", refused])
        if edition["n_refused"]
        else None,
    )


def report_links() -> html.P:
    """Return the links that hand out the month as files."""
    return html.P([
        "This month to take away: ",
        html.A("one page", href="/report.html", download=""), " · ",
        html.A("workbook", href="/report.xlsx", download=""),
    ], className="context downloads")  # fmt: skip


def ten_table(rows: list[Row], scale: Scale) -> html.Table:
    """Return the places to act on: why, expected cost, next step."""
    axis = linear_axis([_over(row["expected_cost_upper"], scale) for row in rows])
    costs: tuple[Any, Any] = (parts.axis_header(axis, words.number), scale.short)
    if all(row["expected_cost"] is None for row in rows):
        costs = ("Expected cost", parts.spoken("Amount"))  # no scale of what nobody knows
    head = [parts.spoken("Rank"), "Place", "Why", *costs, "Next step"]
    return parts.table(head, [_ten_row(row, axis, scale) for row in rows], "ten")


def _over(value: float | None, scale: Scale) -> float | None:
    return None if value is None else value / scale.factor


def _ten_row(row: Row, axis: Axis, scale: Scale) -> list[Any]:
    """Return the cells of one place."""
    line = ", ".join(filter(None, (row["site"], row["line"])))
    where = " · ".join(filter(None, (row["application_class"], line)))
    cost, lower, upper = (
        _over(row[f"expected_cost{end}"], scale) for end in ("", "_lower", "_upper")
    )
    label = f"{words.number(cost, 3)} {scale.long} a year, 90 % range {words.spread(lower, upper)}"
    return [
        html.Span(str(row["rank"]), className="quiet-text"),
        [parts.place_link(row["service_point"]), *parts.hazards(row["hazards"]),
         html.Div(where, className="below"),
         html.Div(standing(row, scale), className="below")],
        [html.Div(row["reason"], className="why"), html.Div(_on_record(row), className="below")],
        parts.interval(cost, lower, upper, axis, label=label, n_failures=row["n_failures"] or 0,
                       attention=bool(row["is_failure_prone"]), absent=words.NO_COST),
        html.Span([html.Span(f"{scale.short} ", className="only-narrow in-line"),
                   words.number(cost, 3),
                   html.Div(words.spread(lower, upper, 3), className="below")]
                  if cost is not None else ""),
        [html.B(row["next_step"]), html.Div(row["next_step_reason"], className="below")],
    ]  # fmt: skip


def _on_record(row: Row) -> str:
    said = words.evidence(row["n_failures"] or 0, row["n_suspensions"] or 0)
    return f"on record: {said}"


STANDING = (" Below each name: the chance that it is among the ten dearest, and its expected cost "
            "against the middle place of its class.")


def standing(row: Row, scale: Scale) -> str:
    """Return how surely a place is among the ten dearest, and how far from like places.

    Examples
    --------
    >>> standing({"expected_cost": 3960.0, "probability_worst_ten": 0.97, "excess_cost": 2324.0},
    ...          Scale(1.0, "£", "£")).replace(words.SPACE, " ")
    '97 % in the ten; £ 2,320 above class'
    >>> standing({"expected_cost": None, "probability_worst_ten": 0.97, "excess_cost": None},
    ...          Scale(1.0, "£", "£"))
    ''
    """
    said = []
    if row["expected_cost"] is not None and row["probability_worst_ten"] is not None:
        chance = words.percent(min(row["probability_worst_ten"], words.MOST_SURE))
        said.append(f"{chance} in the ten")
    excess = _over(row["excess_cost"], scale)
    if excess:
        side = "above" if excess > 0 else "below"
        said.append(f"{scale.short}{words.SPACE}{words.number(abs(excess), 3)} {side} class")
    return "; ".join(said)


def tie_words(rows: list[Row]) -> str:
    """Return which of the first places cannot be told apart in rank.

    Examples
    --------
    >>> tie_words([{"is_tied_with_first": True}] * 3 + [{"is_tied_with_first": False}])
    ' Places 1 to 3 cannot be told apart in rank.'
    """
    tied = 0
    for row in rows:
        if not row["is_tied_with_first"]:
            break
        tied += 1
    if tied < 2:
        return ""
    if tied == len(rows):
        return " None of these can be told apart in rank."
    if tied == 2:
        return " Places 1 and 2 cannot be told apart in rank."
    return f" Places 1 to {tied} cannot be told apart in rank."


def soonest_list(rows: list[Row]) -> html.Table:
    """Return the hoses most likely to fail within 90 days, on one axis from 0 to 100 %."""
    top = linear_axis([row["upper"] for row in rows], share=1.0).high
    axis = Axis(0.0, min(1.0, top), (0.0, min(1.0, top) / 2, min(1.0, top)))
    body = []
    for row in rows:
        chance, span = row["chance"], words.percent_spread(row["lower"], row["upper"])
        label = f"{words.percent(chance)} chance, 90 % range {span}"
        below = f"{row['age_days']:,.0f} days old · " if row["age_days"] is not None else ""
        below += words.evidence(row["n_failures"] or 0, row["n_suspensions"] or 0)
        body.append([
            [parts.place_link(row["service_point"]), *parts.hazards(row["hazards"]),
             html.Div(below, className="below")],
            parts.interval(chance, row["lower"], row["upper"], axis, label=label,
                           n_failures=row["n_failures"] or 0,
                           attention=bool(row["is_failure_prone"])),
            [words.percent(chance), html.Div(span, className="below")],
        ])  # fmt: skip
    head = ["Place", parts.axis_header(axis, words.percent), "Chance"]
    return parts.table(head, body, "soonest")


def cost_figure(past: list[Row], ahead: list[Row], edition: Row, scale: Scale) -> Any:
    """Return the figure of cost by month."""
    figure = cost_by_month(
        [row["month"] for row in past], [row["cost"] for row in past],
        [row["month"] for row in ahead], [row["cost_mean"] for row in ahead],
        [row["cost_lower"] for row in ahead], [row["cost_upper"] for row in ahead],
        edition["as_of"], scale.factor, "%{x|%B %Y}: %{y:,.3~g} " + scale.long,
    )  # fmt: skip
    mean = sum(row["cost_mean"] or 0.0 for row in ahead)
    label = (
        f"Cost of replacements in the last {words.count(len(past), 'month')} and expected "
        f"for the coming {len(ahead)}; expected in all {scale.written(mean)} {scale.long}"
    )
    return parts.graph("month-cost", figure, 250, label)
