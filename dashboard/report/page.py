"""The month as one HTML file: same words, same tables as the pages, nothing loaded from outside."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from dash import html

from dashboard import parts, words
from dashboard.parts import due as parts_due
from dashboard.parts.month import sections as parts_month
from dashboard.parts.month.prevented import prevented_block
from dashboard.parts.spares import sections as parts_spares
from dashboard.parts.spares.money import budget_block
from dashboard.queries import due, edition, health, month, spares
from dashboard.queries.edition import Row
from dashboard.report.draw import cost_drawing
from dashboard.report.static import to_html, to_text
from dashboard.theme import dark_if_preferred, style_variables

ASSETS = Path(__file__).parents[1] / "assets"
METHODS = ("expected_cost", "forecast", "preventive_age", "planned_work", "plan_effect", "spares",
           "spares_budget")
MOST_ORDERS = 1000
SAFE = "default-src 'none'; style-src 'unsafe-inline'; font-src data:"
"""Nothing of the file may run, and nothing may be fetched."""
FONT = (
    '@font-face{{font-family:"Source Sans 3 Variable";font-weight:200 900;'
    "src:url(data:font/woff2;base64,{}) format('woff2')}}"
)


def month_sentence() -> str:
    """Return what happened this month, in words alone."""
    return to_text(_sentence(edition.info()))


def month_page() -> str:
    """Return the report as one HTML text.

    Returns
    -------
    str
        Style, font and drawing stand in it; it holds no script.

    Raises
    ------
    EditionError
        There is no edition to read.
    """
    info = edition.info()
    blocks: list[Any] = [parts.headline("No place is on record yet.")]
    if info["n_service_points"]:
        # Refused rows stand among the doubts here: the way to them leads over a page.
        blocks = [_sentence(info), parts_month.context(info | {"n_refused": 0})]
    body = to_html([_head(info), *blocks, _ten(info)])
    saved = prevented_block(due.prevented(), due.lasting(), None, info["currency"])
    body += _cost(info) + to_html([_due(info), saved, _orders(info), _doubts(info),
                                   _methods(), parts.caution(*words.CAUTION_FORECAST)])
    title = f"{words.PRODUCT}: {_month(info)}"
    return (
        f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{SAFE}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{title}</title><style>{_style()}</style></head>"
        f'<body><main class="page report">{body}</main></body></html>\n'
    )


def _month(info: Row) -> str:
    return f"{words.month_name(info['as_of'])} {info['as_of'].year}"


def _style() -> str:
    font = (ASSETS / "fonts" / "source-sans-3-latin-wght-normal.woff2").read_bytes()
    sheets = [*(ASSETS / name for name in ("b_base.css", "c_parts.css", "e_lives.css")),
              Path(__file__).with_name("report.css")]  # fmt: skip
    return "".join([FONT.format(base64.b64encode(font).decode()), style_variables(),
                    dark_if_preferred(), *(sheet.read_text(encoding="utf-8") for sheet in sheets)])


def _head(info: Row) -> html.P:
    return html.P([html.B(f"{words.PRODUCT} · report of {_month(info)}"),
                   f" · data to {words.date(info['as_of'])} · edition {info['edition']} · ranges "
                   f"hold {words.percent(info['confidence'])}"], className="context")


def _sentence(info: Row) -> html.H1:
    return parts_month.sentence(month.out_this_month(), month.year_before(), month.dearest_line(),
                                info)


def _ten(info: Row) -> html.Section:
    rows = month.ten_places()
    if not rows:
        return parts.section("Places to act on", "", parts.empty("no place is ranked yet"))
    scale = parts_month.money_scale([row["expected_cost_upper"] for row in rows],
                                    info["currency"])
    caption = (f"Expected cost of failures in the next twelve months, {scale.long}; dot = "
               f"expected, bar = 90 % range.{parts_month.tie_words(rows)}{parts_month.STANDING}")
    return parts.section("Ten places to act on" if len(rows) == 10 else "Places to act on",
                         caption, parts_month.ten_table(rows, scale))


def _cost(info: Row) -> str:
    past, ahead = month.cost_past(), month.cost_ahead()
    ahead = ahead if any(row["cost_mean"] for row in ahead) else []
    scale = parts_month.money_scale(
        [row["cost"] for row in past] + [row["cost_upper"] for row in ahead], info["currency"])
    drawing = cost_drawing(past, ahead, scale) + cost_drawing(past, ahead, scale, is_narrow=True)
    head = to_html([html.H2(f"Cost of failures by month, {scale.long}"),
                    html.P("Bars: what they cost. Dots: expected, with a 90 % range; planned "
                           "changes not counted." if drawing else "", className="caption")])
    return (f'<section class="block">{head}'
            f"{drawing or to_html(parts.empty('no removal is on record yet'))}</section>")


def _due(info: Row) -> html.Section:
    """Return the planned changes of three months in order of line, to work from."""
    rows, year = due.soon(), due.year()
    title = "Due in the next three months"
    if not rows:
        said = f"nothing; {words.count(year['n_due'], 'change')} within twelve months"
        return parts.section(title, "", parts.empty(said))
    body = parts.table(["Place", "Part", "By", "Why"], [_due_row(row) for row in rows], "due-list")
    return parts.section(
        title, f"{parts_due.work_words(rows)}; {parts_due.year_words(year, info['currency'])}",
        body, parts.caution(*parts_due.CAUTION_WORK))


def _due_row(row: Row) -> list[Any]:
    hours = row["labour_h"]
    line = parts_due.line_name(row) + (f" · {words.number(hours)} h" if hours else "")
    return [[parts.place_link(row["service_point"]), *parts.hazards(row["hazards"]),
             html.Div(line, className="below")],
            row["part_number"] or "part not recorded",
            [parts_due.day_words(row), html.Div(f"{words.days(row['age_days'])} old",
                                                className="below")], row["reason"]]


def _orders(info: Row) -> html.Section:
    rows = spares.orders(MOST_ORDERS)
    body: Any = parts_spares.orders_table(
        rows, info["currency"], with_steps=False) if rows else parts.empty(
        "No part with a stock log is at or below its reorder point.")  # fmt: skip
    known = [row["cost"] for row in rows if row["cost"] is not None]
    total = f", {words.money(sum(known), info['currency'])}" if known else ""
    count = f"{words.count(len(rows), 'part')}{total}; dearest first" if rows else ""
    budget = budget_block(spares.budget(), info["currency"], None)
    return html.Section([parts.section("Order now", count, body), budget])


def _doubts(info: Row) -> html.Section:
    rows: Sequence[Row] = [row for row in health.doubts() if row["n_rows"]]
    refused = words.count(info["n_refused"], "log row")
    body: Any = parts.table(["Doubt", "Rows", "What would change"], [
        [row["doubt"], f"{row['n_rows']:,}", row["effect"]] for row in rows
    ], "doubts") if rows else parts.empty("no doubt is on record")  # fmt: skip
    return parts.section("What the figures rest on", f"{refused} refused, each with "
                         "file, row and remedy on the page Data health; then the doubts", body)


def _methods() -> html.Section:
    notes = [edition.method(key) for key in METHODS]
    return parts.section("How the figures are made", "", *(
        html.P([html.B(f"{note['title']}. "), note["words"]], className="method")
        for note in notes if note["words"]))
