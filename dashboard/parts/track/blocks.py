"""Blocks of the track record: forecasts against outcomes, scores, chances, flags."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard import parts, words
from dashboard.figures.axis import Axis
from dashboard.figures.track import forecasts_and_outcomes
from dashboard.parts.track import told as parts_track
from dashboard.parts.track.told import SCOPES, SPANS, Scores
from dashboard.queries.edition import Row

SHOWN = 8
CHANCE_SPANS = {3: "90 days", 12: "twelve months"}
CAUTION = (
    "A place that did better since",
    "may have been helped by what was done about it, or by chance. A calm record is no reason to "
    "leave out an inspection or a fixed interval; hazardous service follows its own.",
)


def outcomes(rows: Sequence[Row], span: str, name: str, choices: Any, how: Any) -> html.Section:
    """Return the figure of one group over one span."""
    caption = [
        f"Failures within {SPANS[span]}, {name}, at the end of each span. Bars: 50 % and 90 % "
        "ranges as forecast; stroke: mean; ring: last year's average. Dots: what came; rust "
        "diamonds: outside the 90 % range. ", parts.download_links("track_forecasts"),
    ]  # fmt: skip
    if int(span) > 1:
        caption.insert(1, "Neighbouring spans overlap and repeat each other. ")
    label = f"Forecasts of failures within {SPANS[span]} and outcomes, {name}"
    body = (parts.graph("track-outcomes", forecasts_and_outcomes(rows), 330, label) if rows
            else parts.empty("No forecast was made for this group."))  # fmt: skip
    return parts.section("Forecast against outcome", caption, choices, body, how=how)


def faults(said: Sequence[Any], how: Any) -> html.Section:
    """Return where the method was wrong."""
    return parts.section("Where it was wrong", "", html.Ul([html.Li(text) for text in said],
                                                           className="list"),
                         how=how)  # fmt: skip


def scores_table(scores: Scores, span: str, how: Any) -> html.Section:
    """Return coverage, bias and gain over the rivals, one row a kind of group."""
    months = int(span)
    head = ["Forecasts for", "Inside the 90 % range", "Added up",
            *(f"Against {words}" for words in parts_track.RIVALS.values())]  # fmt: skip
    body = []
    for scope, name in SCOPES.items():
        cover = scores.get(scope, months, "coverage_90")
        bias = scores.get(scope, months, "bias")
        if cover is None or bias is None:
            continue
        told = f"{cover['n_forecasts']:,} from {words.count(cover['n_origins'], 'month end')}"
        body.append([
            [html.B(name), " ", html.Div(told, className="below")],
            _cell(words.percent(cover["value"]), cover,
                  parts_track.is_beyond(cover, 0.9) and cover["value"] < 0.9),
            _cell("no failure came" if bias["value"] is None else parts_track.bias_words(bias),
                  bias, parts_track.is_beyond(bias, 0.0)),
            *(_gain(scores.get(scope, months, "gain", rival)) for rival in parts_track.RIVALS),
        ])  # fmt: skip
    return parts.section(
        f"How good, over {SPANS[span]}",
        ["Below each figure its own 90 % range. Inside: nine in ten would be right. Nearer: "
         "the forecast missed what came by less than the other would have. ",
         parts.download_links("track_scores")],
        parts.table(head, body) if body else parts.empty("No span of this length is over yet."),
        how=how,
    )  # fmt: skip


def _cell(text: str, row: Row, attention: bool) -> list[Any]:
    # The blank parts the two where a phone puts them on one line.
    return [parts.strong(text, attention) if attention else text, " ",
            html.Div(parts_track.range_words(row), className="below")]  # fmt: skip


def _gain(row: Row | None) -> Any:
    if row is None or row["value"] is None:
        return parts.empty("not known")
    return _cell(parts_track.gain_words(row), row, parts_track.is_beyond(row, 0.0)
                 and row["value"] < 0)  # fmt: skip


def chances(scores: Scores, how: Any) -> html.Section:
    """Return what came of the chances given to single places."""
    axis = Axis(0.0, 1.0, (0.0, 0.5, 1.0))
    scale = parts.axis_header(axis, words.percent, "Share that failed")
    head = ["Within", "Chance given", "Times given", scale, "Failed"]
    order = sorted(scores.bands, key=lambda row: (row["horizon_months"], row["expected"]))
    body = []
    for row in order:
        given = words.percent(row["expected"])
        label = f"{words.percent(row['value'])} failed ({parts_track.range_words(row)})"
        body.append([
            CHANCE_SPANS[row["horizon_months"]],
            [f"{row['band']}", " ", html.Div(f"{given} on average", className="below")],
            f"{row['n_forecasts']:,}",
            parts.interval(row["value"], row["lower"], row["upper"], axis, label=label,
                           attention=parts_track.is_beyond(row, row["expected"])),
            _cell(words.percent(row["value"]), row, False),
        ])  # fmt: skip
    said = [html.Li(text) for text in map(lambda months: _brier(scores, months), CHANCE_SPANS)
            if text]  # fmt: skip
    return parts.section(
        "Chances given to single places",
        ["Share that failed among the places given a chance of each band; right when it equals "
         "the chance. Rust: the difference is beyond chance. ",
         parts.download_links("track_scores")],
        html.Ul(said, className="list") if said else None,
        parts.table(head, body, "chances") if body else parts.empty("No span is over yet."),
        how=how,
    )  # fmt: skip


def _brier(scores: Scores, months: int) -> str:
    """Return how the chances compare with those of the rivals."""
    rows = [(rival, scores.get("place", months, "brier_gain", rival))
            for rival in parts_track.RIVALS]  # fmt: skip
    told = [f"{parts_track.gain_words(row)} than {parts_track.RIVALS[rival]}"
            if parts_track.is_beyond(row, 0.0) else
            f"{parts_track.gain_words(row)} from {parts_track.RIVALS[rival]}"
            for rival, row in rows if row and row["value"] is not None]  # fmt: skip
    return f"Within {CHANCE_SPANS[months]}: {'; '.join(told)}." if told else ""


def flags(rows: Sequence[Row], ratio: Row | None, faster: Row | None, how: Any) -> html.Section:
    """Return the places once called failure-prone, and what they did since."""
    if not rows:
        return parts.section("Places flagged, and since", "", parts.empty(
            "No place was called failure-prone at any of these month ends."), how=how)  # fmt: skip
    said: list[Any] = []
    if ratio and ratio["value"] is not None:
        said.append(
            f"Flagged as failing {words.number(ratio['expected'])} times as fast as like places, "
            f"they have since failed {words.number(ratio['value'])} times as often "
            f"({words.spread(ratio['lower'], ratio['upper'])}).")  # fmt: skip
    if faster and faster["value"] is not None:
        n = round(faster["value"] * faster["n_forecasts"])
        said.append(f"{n} of the {faster['n_forecasts']} flagged long enough ago to judge failed "
                    "more often since than like places did; "
                    "the others did not, or not yet.")  # fmt: skip
    rows = rows[::-1]
    head = ["Place", "Flagged at the end of", "Then", "Since", "Like places since", "Now"]
    rest = [html.Details([
        html.Summary(f"and {words.count(len(rows) - SHOWN, 'earlier flag')}"),
        parts.table(head, [_flag(row) for row in rows[SHOWN:]]),
    ], className="fold")] if len(rows) > SHOWN else []  # fmt: skip
    return parts.section(
        "Places flagged, and since",
        ["Each place at its first flag in these months. Like places: same application class, not "
         "flagged then, over the same days. ",
         parts.download_links("track_flags")],
        html.Ul([html.Li(text) for text in said], className="list") if said else None,
        parts.table(head, [_flag(row) for row in rows[:SHOWN]]), *rest,
        parts.caution(*CAUTION), how=how,
    )  # fmt: skip


def _flag(row: Row) -> list[Any]:
    like = row["like_failed_since"]
    return [
        [parts.place_link(row["service_point"]), " ",
         html.Div(row["application_class"], className="below")],
        f"{words.month_name(row['as_of'])} {row['as_of'].year}",
        [f"{words.number(row['relative_rate'])} times like places", " ",
         html.Div(f"{words.count(row['observed_failures'], 'failure')}, "
                  f"{words.number(row['failures_expected_so_far'])} expected", className="below")],
        f"{words.count(row['failed_since'], 'failure')} in {words.days(row['days_since'])}",
        f"{words.number(like)} failures a place" if like is not None else "no like place",
        "still flagged" if row["is_failure_prone"] else "not flagged any more",
    ]  # fmt: skip
