"""The part in the address: its demand, its places, its stock under other assumptions, its kin."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard import parts
from dashboard.parts.spares import money as parts_spares_money
from dashboard.parts.spares import sections as parts_spares
from dashboard.parts.spares.what_if import part_grid
from dashboard.queries import edition
from dashboard.queries import spares as asked
from dashboard.queries import spares_what_if as asked_if


def chosen_part(part_number: Any, currency: str) -> list[Any]:
    """Return the blocks of the part in the address, nothing when there is none."""
    if not part_number:
        return []
    row = asked.part(str(part_number))
    if row is None:
        return [parts.empty(f"There is no part {part_number} in this edition.")]
    name = row["part_number"]
    block = parts_spares.part_block(
        row, asked.places(name), currency, _how("spares", "spares"),
        _how("failure_probability_90_days", "ranking"))
    more = [part_grid(asked_if.of_part(name), _how("spares", "spares_what_if")),
            parts_spares_money.stand_ins_block(
                asked.stand_ins(name), _how("spares_stand_ins", "spares_stand_ins"))]  # fmt: skip
    return [html.Div(block, className="columns halves"),
            html.Div(more, className="columns halves")]  # fmt: skip


def _how(key: str, table: str) -> html.Details:
    """Return the mark of a block: its method, its table, the data date."""
    rows = ["All rows: ", parts.download_links(table)]
    return parts.how(edition.method(key), rows, edition.info()["as_of"])
