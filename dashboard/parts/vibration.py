"""Blocks of the page about vibration."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from dash import dcc, html

from dashboard import parts, units, words
from dashboard.figures.axis import Axis, ratio_axis
from dashboard.figures.vibration import life_map, life_over_velocity
from dashboard.parts.teardown import told as parts_teardown
from dashboard.queries.edition import Row
from dashboard.words import vibration as told

EXPONENTS = Axis(0.0, 4.0, (0.0, 2.0, 4.0))


def bands() -> html.P:
    """Return the bands of life, each as words on its colour."""
    return html.P(
        [html.Span(text, style={"background": f"var(--{colour})"})
         for text, colour in told.band_words()], className="bands")  # fmt: skip


def maps(
    cells: Sequence[Row], dots: Sequence[Row], counts: Sequence[Row], mark: html.Details
) -> html.Section:
    """Return the maps of a class, one a construction, those with the most lives first."""
    order = [row["construction"] for row in counts]
    names = sorted({row["construction"] for row in cells}, key=order.index)
    caption = ("B10 by colour, over the main frequency and velocity at the hose. A dot is a place "
               "with hoses of this kind, filled where one failed by vibration, small where "
               "it is of another class. Blank means no evidence, not safety.")  # fmt: skip
    if not names:
        return parts.section("Maps", caption, parts.empty(
            "No frequency is on record in this class, so there is no map."), how=mark)
    drawn = [_map(number, name, [row for row in cells if row["construction"] == name],
                  [row for row in dots if row["construction"] == name])
             for number, name in enumerate(names)]  # fmt: skip
    return parts.section("Which vibration, how long", caption, bands(),
                         html.Div(drawn, className="maps"), how=mark)


def _map(number: int, name: str, cells: Sequence[Row], dots: Sequence[Row]) -> html.Div:
    """Return one map with its counts and why parts of it are blank."""
    reasons = Counter(units.sentence(row["reason"]) for row in cells if row["reason"])
    lives, failed = (sum(row[key] for row in dots if row["is_own"])
                     for key in ("n_lives", "n_failures"))
    said = html.P(told.no_evidence(reasons.most_common(), len(cells)), className="caption")
    counted = f"{failed:,} failed by vibration, {lives - failed:,} not"
    title = html.H3(f"{name} · {counted}")
    if len(reasons) and sum(reasons.values()) == len(cells):
        return html.Div([title, parts.empty("No part of the map has evidence."), said])
    label = f"{name}: B10 by frequency and velocity; {counted}"
    return html.Div([title, parts.graph(f"vibration-map-{number}", life_map(cells, dots), 250,
                                        label), said])  # fmt: skip


def curves(rows: Sequence[Row], application_class: str, mark: html.Details) -> html.Section:
    """Return life over velocity."""
    caption = (f"{application_class}, away from resonance, at usual pressure and flow. Band = 90 % "
               "range; a line ends where its hoses end.")  # fmt: skip
    if not rows:
        return parts.section("B10 against velocity", caption, parts.empty(
            "No construction of this class fits the law well enough to draw."), how=mark)
    label = "B10 in days over vibration velocity, one line a construction"
    return parts.section("B10 against velocity", caption, parts.graph(
        "vibration-curves", life_over_velocity(rows), 330, label), how=mark)


def place(
    row: Row | None, wanted: str, choices: Sequence[Row], finder: html.Form, mark: html.Details
) -> html.Section:
    """Return, for one place, the chance that each construction outlasts the present one."""
    if row is None:
        text = (f"“{wanted}” is no place of a class that vibrates, or has no hose on record."
                if wanted else "No place of this class has a hose now.")  # fmt: skip
        return parts.section("At one place", None, finder, parts.empty(text), how=mark)
    span = units.spread(row["velocity_mm_s_lower"], row["velocity_mm_s_upper"], "mm/s")
    hertz = f", {row['frequency_hz']:.0f} Hz" if row["frequency_hz"] else ", frequency not recorded"
    title = f"At {row['service_point']}: {units.text(row['velocity_mm_s'], 'mm/s', 2)}{hertz}"
    caption: list[Any] = [
        f"Velocity {span} {units.name('mm/s')} by {words.count(row['n_readings'], 'reading')}; now "
        f"{row['construction'] or 'no hose'}. How likely the typical hose of each other "
        "construction outlives the typical one of it here; below that, the very next hose. ",
        parts.place_link(row["service_point"]),
    ]  # fmt: skip
    if not choices:
        return parts.section(title, caption, finder, parts.empty(
            "No hose in service here, no other construction to set against it, or few failures: "
            "only the places where vibration costs most hoses are compared."), how=mark)
    return parts.section(title, caption, finder, _choice_table(choices), how=mark)


def _choice_table(choices: Sequence[Row]) -> html.Table:
    axis = ratio_axis(5.0)
    body = []
    for row in choices:
        failed = f"{row['n_failures']:,} failed"
        if row["chance"] is None:
            body.append([row["construction"], html.Span("no evidence", className="absent"),
                         html.Span(units.sentence(row["reason"]), className="quiet-text"), failed])
            continue
        span = words.spread(row["life_ratio_lower"], row["life_ratio_upper"])
        label = f"{words.number(row['life_ratio'])} times the life, 90 % range {span}"
        body.append([
            row["construction"],
            [words.percent(row["chance"]),
             html.Div(f"the next hose: {words.percent(row['next_chance'])}", className="below")],
            [parts.interval(row["life_ratio"], row["life_ratio_lower"], row["life_ratio_upper"],
                            axis, label=label, n_failures=row["n_failures"]),
             html.Div(f"{words.number(row['life_ratio'])}× ({span})", className="below")],
            [failed, html.Div(f"both fitted at {words.count(row['n_common_places'], 'place')}",
                              className="below")],
        ])  # fmt: skip
    scale = parts.axis_header(axis, lambda tick: f"{tick:g}×", "Life ratio")
    return parts.table(["Construction", "Outlasts it", scale, "Evidence"], body, "outlasting")


def finder(names: Sequence[str], application_class: str, chosen: str) -> html.Form:
    """Return the form that asks for a place; it works by the address alone."""
    return html.Form(
        [
            html.Label("Place", htmlFor="vibration-place"),
            dcc.Input(id="vibration-place", name="place", type="text", list="vibration-places",
                      placeholder=chosen, autoComplete="off"),
            html.Datalist([html.Option(value=name) for name in names], id="vibration-places"),
            dcc.Input(name="class", type="hidden", value=application_class),
            html.Button("Show", type="submit"),
        ],
        action="/vibration", method="GET", className="find-place",
    )  # fmt: skip


def constructions(rows: Sequence[Row], mark: html.Details) -> html.Section:
    """Return how fast each construction's life falls, with its counts."""
    body = []
    for row in rows:
        span = words.spread(row["exponent_lower"], row["exponent_upper"])
        label = f"exponent {words.number(row['exponent'])}, 90 % range {span}"
        shape = words.spread(row["shape_lower"], row["shape_upper"])
        body.append([
            row["construction"],
            [parts.interval(row["exponent"], row["exponent_lower"], row["exponent_upper"],
                            EXPONENTS, label=label, n_failures=row["n_failures"]),
             html.Div(f"{words.number(row['exponent'])} ({span})", className="below")],
            f"{words.number(row['shape'])} ({shape})",
            f"{units.spread(row['lowest_mm_s'], row['highest_mm_s'], 'mm/s')} {units.name('mm/s')}",
            [words.evidence(row["n_failures"], row["n_lives"] - row["n_failures"]),
             html.Div(words.count(row["n_places"], "place"), className="below")],
            units.sentence(row["reason"]) or "fits",
        ])  # fmt: skip
    caption = ("Life goes with velocity to minus this power: at 1 twice the velocity halves it, at "
               "2 it leaves a quarter. Kinds with few failures lean on the others.")  # fmt: skip
    scale = parts.axis_header(EXPONENTS, lambda tick: f"{tick:g}", "Power")
    head = ["Construction", scale, "Weibull shape", "Its hoses run at", "Hoses", "The law"]
    return parts.section("How fast life falls", caption, parts.table(head, body), how=mark)


def doubts(summary: Row, errors: list[Row], mark: Any) -> html.Section:
    """Return what these figures cannot know."""
    items = [html.Li(text) for text in told.doubts(summary, errors)]
    return parts.section("What this cannot know", "", html.Ul(items, className="doubts"), how=mark)


def screens(rows: Sequence[Row], name: str, mark: html.Details) -> html.Section | None:
    """Return what rough physics says of the place's vibration; it ranks and clears nothing."""
    mine = [row for row in rows if row["screen"] in ("vibration", "frequency")]
    if not mine:
        return None
    caption = ["Published lines for pipe and a beam formula. They rank places and clear none. ",
               parts.link("Other fillings, ends, tension and speeds", "/physics", place=name)]
    return parts.section(f"Rough physics at {name}", caption, parts_teardown.screens(mine),
                         how=mark)
