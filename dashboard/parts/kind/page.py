"""The page of one kind of hose: all its blocks for the choices of the address."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import html

from dashboard import parts, words
from dashboard.parts import choice as parts_choice
from dashboard.parts import due as parts_due
from dashboard.parts import matrix as parts_lives
from dashboard.parts.kind import blocks as parts_cell_blocks
from dashboard.parts.kind import by_clock
from dashboard.parts.kind import hoses as parts_hoses
from dashboard.parts.kind import law as parts_lives_law
from dashboard.parts.kind import other as parts_cell_compare
from dashboard.parts.kind import recurrence as parts_recurrence
from dashboard.queries import due, edition
from dashboard.queries import lives as asked
from dashboard.queries.edition import Row
from dashboard.words import clock as clocks
from dashboard.words import lives as words_lives


def page(kind: tuple[str, str], fits: Sequence[Row], mechanism: str | None,
         query: Mapping[str, Any]) -> html.Div:
    """Return the page of a kind by clock, mechanism and second kind of the address."""
    offered = clocks.offered(asked.clocks(kind))
    clock, is_offered = parts_choice.allowed(query.get("clock"), offered)
    if clock != clocks.DAYS.name:
        return by_clock.page(kind, clock, offered, mechanism, query)
    names = {fit["mechanism"]: words.mechanism(fit["mechanism"]) for fit in fits}
    mechanism, is_known = parts_choice.allowed(mechanism, names)
    fit = next(fit for fit in fits if fit["mechanism"] == mechanism)
    curve, points = asked.curve(*kind, mechanism), asked.points(*kind, mechanism)
    second = asked.second_opinion(*kind, mechanism)
    as_of, other = edition.info()["as_of"], query.get("with") or ""
    blocks, path = parts_cell_blocks, parts_lives.kind_href(*kind)

    def how(key: str, table: str) -> html.Details:
        return parts.how(edition.method(key), ["All rows: ", parts.download_links(table)], as_of)

    return html.Div(
        [
            html.P([parts.link("Lives", "/lives"), f" · {kind[0]} · {kind[1]}"], className="lead"),
            parts.headline(*blocks.sentence(kind, fits)),
            parts.context_line(*blocks.context(fits[0], asked.endings(*kind))),
            None if is_offered else parts.empty(
                "No hose of this kind has readings of that clock; calendar days are shown."),
            None if is_known else parts.empty(blocks.NOT_HERE),
            by_clock.choice(offered, clock, path, {"mechanism": mechanism, "with": other}),
            parts_choice.choice("Failed by", "mechanism", names, mechanism, path, {"with": other}),
            html.Div(blocks.plots(fit, points, curve, second, how),
                     className="columns wide-narrow"),
            parts_lives_law.block(fit, second, points, how("fit_tests", "fit_tests")),
            blocks.mechanisms(fits, mechanism, how),
            parts_due.age_block(due.of_kind(*kind), how("preventive_age", "preventive_ages"),
                                edition.info()["currency"],
                                parts.caution(*parts_due.CAUTION_WORK)),
            html.Div(blocks.curves(fit, curve, asked.incidence(*kind),
                                   asked.free_survival(*kind, mechanism), how),
                     className="columns halves"),
            parts_recurrence.block(kind[0], *asked.recurrence(kind[0]),
                                   how("recurrence", "mean_cumulative_failures")),
            parts_cell_compare.comparison(kind, fit, other, curve, how),
            parts_hoses.hoses_block(kind, fits[0]["n_lives"], as_of, query),
            parts.caution(*words_lives.CAUTION_B10),
        ],
        className="page",
    )  # fmt: skip
