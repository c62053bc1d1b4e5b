"""The page of one kind of hose by another clock than days: what readings of a meter tell of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import html

from dashboard import parts, words
from dashboard.parts import choice as parts_choice
from dashboard.parts.kind import blocks, hoses
from dashboard.parts.kind.sections import sentence, shape_words
from dashboard.parts.matrix import kind_href
from dashboard.queries import edition
from dashboard.queries import lives as asked
from dashboard.queries.edition import Row
from dashboard.words import clock as clocks
from dashboard.words import lives as words_lives

IN_DAYS = (
    "estimates pooled with like kinds, and what these led one to expect",
    "whether the lives are Weibull lives, and second opinions on the line",
    "when to change a hose, and what that saves",
    "the chance of each mechanism with all competing",
    "failures that add up at places",
    "the comparison with a second kind of hose",
)
"""What the page of a kind has in calendar days only."""


def choice(offered: Mapping[str, str], clock: str, path: str,
           query: Mapping[str, str]) -> html.Div | None:  # fmt: skip
    """Return the choice of a clock; none where only calendar days are told."""
    if len(offered) < 2:
        return None
    kept = {key: "" if value == "all" else value for key, value in query.items()}
    return parts_choice.choice("Clock", "clock", offered, clock, path, kept)


def page(
    kind: tuple[str, str], name: str, offered: Mapping[str, str], mechanism: str | None,
    query: Mapping[str, Any],
) -> html.Div:
    """Return the page of a kind by a clock that it has readings of.

    Parameters
    ----------
    kind : (application class, construction)
    name : str
        The clock, one of `offered`.
    offered : mapping of name to words
    mechanism : str or None
        Of the address.
    query : mapping
        The rest of the address; a second kind in it is kept for the page in days.
    """
    clock, fits = clocks.CLOCKS[name], asked.clock_cell(name, kind)
    names = {fit["mechanism"]: words.mechanism(fit["mechanism"]) for fit in fits}
    mechanism, is_known = parts_choice.allowed(mechanism, names)
    fit = next(fit for fit in fits if fit["mechanism"] == mechanism)
    curve = asked.clock_curve(name, kind, mechanism)
    points = asked.clock_points(name, kind, mechanism)
    as_of, path, other = edition.info()["as_of"], kind_href(*kind), query.get("with") or ""

    def how(key: str, table: str) -> html.Details:
        return parts.how(edition.method(key), ["All rows: ", parts.download_links(table)], as_of)

    return html.Div(
        [
            html.P([parts.link("Lives", "/lives", clock=name), f" · {kind[0]} · {kind[1]}"],
                   className="lead"),
            parts.headline(*blocks.sentence(kind, fits)),
            parts.context_line(*context(fits[0])),
            None if is_known else parts.empty(blocks.NOT_HERE),
            choice(offered, name, path, {"mechanism": mechanism, "with": other}),
            parts_choice.choice("Failed by", "mechanism", names, mechanism, path,
                                {"clock": name, "with": other}),
            html.Div([
                parts.section(
                    f"Failed by {clock.title}: {words.mechanism(mechanism)}, "
                    f"{words_lives.evidence(fit)}",
                    "Filled = failed in service, ring = found failed; a Weibull life is a "
                    "straight line. Dotted beyond the oldest hose: no evidence there.",
                    blocks.probability_plot(fit, points, curve),
                    how=how("clock_fits", "clock_points")),
                parts.section("How far to trust it", blocks.status_caption(fit), judgement(fit),
                              how=how("clock_fits", "clock_fits")),
            ], className="columns wide-narrow"),
            blocks.mechanisms(fits, mechanism, how),
            html.Div([
                parts.section(f"Still running after so many {clock.title}",
                              f"{words.mechanism(mechanism)}; these hoses alone, 90 % range",
                              blocks.running_plot(fit, curve),
                              how=how("clock_fits", "clock_curves")),
                in_days(path, mechanism, other),
            ], className="columns halves"),
            hoses.hoses_block(kind, fits[0]["n_lives"] + fits[0]["n_left_out"], as_of, query),
            parts.caution(*words_lives.CAUTION_B10),
        ],
        className="page",
    )  # fmt: skip


def context(whole: Row) -> list[str]:
    """Return the counts under the sentence."""
    clock, oldest = clocks.of(whole), words_lives.longest(whole)
    return [
        f"{words.count(whole['n_lives'], 'hose')} with readings of {clock.title}",
        words_lives.evidence(whole),
        f"oldest {clocks.age(oldest, clock)}" if oldest else "",
        f"{whole['n_left_out']:,} without" if whole["n_left_out"] else "",
        "pooled figures in calendar days only",
    ]  # fmt: skip


def judgement(fit: Row) -> html.Ul:
    """Return what a fit by readings rests on, and what it leaves out."""
    clock = clocks.of(fit)
    lines = []
    shape, lower, upper = words_lives.values(fit, "shape", "alone")
    if shape is not None:
        lines.append(("Shape. ", shape_words(shape, lower, upper)))
    left = words_lives.left_out(fit)
    lines.append(("Left out for want of readings. ", (left or "none") + "."))
    if fit["n_cut"]:
        n = fit["n_cut"]
        lines.append(("Readings that end early. ", (
            f"{words.count(n, 'hose')} ran on for more than 90 days after the last reading and "
            f"{'counts' if n == 1 else 'count'} as still running until then; "
            f"{fit['n_cut_failures'] or 'none'} of them failed later.")))
    lines.append(("Between readings ", (
        f"a hose is taken to run evenly, and for 90 days after the last one at the pace of the "
        f"year before; so each life in {clock.title} is as good as its meter is read often.")))
    if fit["n_unknown"] and fit["mechanism"] != "all":
        n = fit["n_unknown"]
        lines.append(("Mechanisms. ", (
            f"{words.count(n, 'failure')} without a concluded mechanism "
            f"{'counts' if n == 1 else 'count'} as running on here.")))
    if fit["note"]:
        lines.append(("Know beforehand. ", sentence(fit["note"])))
    return html.Ul([html.Li([html.B(head), text]) for head, text in lines], className="list")


def in_days(path: str, mechanism: str, other: str) -> html.Section:
    """Return what stands in calendar days only, and the way there."""
    there = parts.link("Open this kind in calendar days", path, **{
        "mechanism": "" if mechanism == "all" else mechanism, "with": other})
    return parts.section("In calendar days only", "Not worked out by other clocks:",
                         html.Ul([html.Li(text) for text in IN_DAYS], className="list"),
                         html.P(there))  # fmt: skip

