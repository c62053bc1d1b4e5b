"""What if: stock and orders at other lead times and service levels, or without the plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ALL, Input, Output, State, dcc, html

from dashboard import parts, words
from dashboard.parts.choice import allowed, keep_in_address
from dashboard.parts.spares.sections import part_link, where
from dashboard.queries import edition
from dashboard.queries import spares_what_if as asked
from dashboard.queries.edition import Row

TIMES = {"0.5": "half as long", "0.75": "a quarter shorter", "1": "as recorded",
         "1.5": "half as long again", "2": "twice as long", "3": "three times as long"}  # fmt: skip
POLICIES = {"as planned": "planned changes as due", "without the plan": "without the plan"}
NAMES = ("factor", "level", "policy")
CAUTION_PLAN = (
    "Not a proposal:",
    "leaving the plan out is shown for comparison alone: hoses then come out as before, by "
    "failure or by habit. Hazardous service keeps its "
    "planned replacement and inspection whatever the stock costs.",
)


def options() -> dict[str, dict[str, str]]:
    """Return the choices with their words; the first of each is how things are now."""
    known = asked.choices()
    factors = ["1", *(value for value in known["factor"] if value != "1")]
    return {
        "factor": {value: TIMES.get(value, f"{value} times") for value in factors},
        "level": {value: level_words(value) for value in known["level"]},
        "policy": {value: POLICIES.get(value, value) for value in known["policy"]},
    }


def level_words(value: str) -> str:
    """Return a choice of service level in words."""
    return "each part's own" if value == asked.STATED else words.percent(float(value))


def chosen(given: Mapping[str, Any], offered: Mapping[str, Mapping[str, str]]) -> dict[str, str]:
    """Return the assumptions of the address or the inputs; what is not offered is as now."""
    return {name: allowed(given.get(name), offered[name])[0] for name in NAMES}


def what_if_block(given: Mapping[str, Any], how: Any) -> html.Section | None:
    """Return the inputs and the answer; nothing where no stock is published."""
    offered = options()
    if not all(offered.values()):
        return None
    values = chosen(given, offered)
    titles = {"factor": "Every lead time", "level": "Chance of no shortage", "policy": "Plan"}
    controls = [
        dmc.Select(id={"type": "spares-what-if", "index": name}, label=titles[name],
                   data=[{"value": key, "label": text} for key, text in offered[name].items()],
                   value=values[name], allowDeselect=False)
        for name in NAMES
    ]  # fmt: skip
    return parts.section(
        "What if", ["Stock and orders of all parts under other assumptions. Every part and case: ",
                    parts.download_links("spares_what_if")],
        html.Div([*controls, dcc.Store(id="spares-what-if-address")], className="filters"),
        html.Div(answer(values), id="spares-what-if", **{"aria-live": "polite"}), how=how,
    )  # fmt: skip


def answer(values: Mapping[str, str]) -> list[Any]:
    """Return stock and orders under some assumptions, against how things are."""
    case = (values["policy"], values["factor"], values["level"])
    total, currency = asked.totals(*case), edition.info()["currency"]
    if not total["n_parts"]:
        return [parts.empty("This case is not published.")]
    rows = asked.changed(*case)
    out: list[Any] = [html.P(_sentence(total, currency), className="lead", role="status")]
    if rows:
        head = ["Part", "Hold", "Order now", "Lead time", "Covers demand"]
        out.append(parts.table(head, [_row(row) for row in rows], "what-if"))
        rest = total["n_changed"] - len(rows)
        if rest > 0:
            out.append(html.P(f"and {words.count(rest, 'more part')}; largest worth first",
                              className="caption"))
    if values["policy"] == "without the plan":
        out.append(parts.caution(*CAUTION_PLAN))
    return out


def _sentence(total: Row, currency: str) -> list[Any]:
    """Return what all parts together would need."""
    changed = total["n_changed"]

    def against(now: str) -> str:
        return f" against {now}" if changed else ""  # the same twice says nothing

    worth, worth_now = total["stock_value"], total["stock_value_now"]
    out = [html.B(f"Hold {words.count(total['stock'], 'hose')}"),
           against(f"{total['stock_now']:,} now")]
    if worth is not None and worth_now is not None:
        out.append(f", worth {words.money(worth, currency)}"
                   + against(words.money(worth_now, currency)))
    if total["orders"] is not None:
        cost = (f", for {words.money(total['order_cost'], currency)}"
                if total["order_cost"] is not None else "")
        out += ["; ", html.B(f"order {words.count(total['orders'], 'hose')} now{cost}"),
                "," * bool(changed) + against(f"{total['orders_now']:,}")]
    said = f"{words.count(changed, 'part')} of {total['n_parts']:,} would change"
    return [*out, f". {said[0].upper()}{said[1:]}."]


def _row(row: Row) -> list[Any]:
    step = row["stock_level"] - row["stock_now"]
    order = "no stock log"
    if row["order_now"] is not None:
        order = f"{row['order_now']} (now {row['order_as_it_is']})"
    return [
        html.Div([part_link(row["part_number"]), html.Div(where(row), className="below")]),
        [html.B(f"{row['stock_level']}"), f" (now {row['stock_now']}, "
         f"{'+' if step > 0 else '−'}{abs(step)})"],
        order, words.days(row["lead_time_days"]),
        f"{words.percent(row['level_met'])} of the time; {words.number(row['mean'])} expected",
    ]  # fmt: skip


def part_grid(rows: Sequence[Row], how: Any) -> Any:
    """Return the stock of one part by lead time and service level."""
    if not rows:
        return None
    head: list[Any] = ["Lead time"]
    body = []
    for _, group in groupby(rows, key=lambda row: row["factor"]):
        line = list(group)
        head = ["Lead time", *(_level_head(row) for row in line)]
        body.append([words.days(line[0]["lead_time_days"]),
                     *(f"{row['stock_level']}" for row in line)])
    return parts.section("Hold, by lead time and wanted chance of no shortage",
                         "Planned changes as due; the first column of figures is the part's own "
                         "level", parts.table(head, body, "hold"), how=how)  # fmt: skip


def _level_head(row: Row) -> str:
    own = "own: " if row["is_stated_level"] else ""
    return own + words.percent(row["service_level"])


def install() -> None:
    """Let the inputs answer at once and stand in the address."""
    values, ids = {"type": "spares-what-if", "index": ALL}, ("value", "id")

    @dash.callback(
        Output("spares-what-if", "children"), Input(values, ids[0]), State(values, ids[1]),
        prevent_initial_call=True,
    )
    def show(given: list[Any], names: list[dict[str, str]]) -> list[Any]:
        """Return the answer for the assumptions chosen."""
        pairs = {item["index"]: value for item, value in zip(names, given, strict=True)}
        return answer(chosen(pairs, options()))

    keep_in_address("spares-what-if", "spares-what-if-address")
