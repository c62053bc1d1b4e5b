"""The comparison of one kind of hose with a second one that the address names."""

from __future__ import annotations

from dash import html

from dashboard import parts, words
from dashboard.parts.kind import ratio as parts_compare
from dashboard.parts.kind.blocks import How
from dashboard.queries import lives as asked
from dashboard.queries.edition import Row

Kind = tuple[str, str]


def comparison(
    kind: Kind, fit: Row, other: str, curve: list[Row], how: How
) -> html.Section:
    """Return the comparison with the second kind of the address."""
    kinds = [tuple(row.values()) for row in asked.comparable(*kind)]
    second, mechanism = parts_compare.chosen(other, kinds), fit["mechanism"]
    mark = how("life_comparisons", "life_comparisons")
    if second is None:
        text = "The second kind of the address has neither class nor construction in common with "
        text += "this one, or is not in this edition."
        return parts_compare.block(kinds, other, [parts.empty(text)] if other else [])
    theirs = next((f for f in asked.cell(*second) if f["mechanism"] == mechanism), None)
    row = asked.comparison(second, kind, mechanism)
    if theirs is None or row is None:
        said = [parts.empty(f"The second kind has no fit for {words.mechanism(mechanism)}.")]
        return parts_compare.block(kinds, other, said)
    curves = [curve, asked.curve(*second, mechanism)]
    body = [parts_compare.side_by_side((kind, second), [fit, theirs], curves, row)]
    return parts_compare.block(kinds, other, body, mark)
