"""The table of the hoses of one kind."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import html

from dashboard import grids, parts, words
from dashboard.parts.choice import WIDE, not_offered
from dashboard.queries.edition import Row
from dashboard.table_view import asked_view
from dashboard.words import clock as clocks


def hoses_block(
    kind: tuple[str, str], n_lives: int, as_of: Any, query: Mapping[str, Any]
) -> html.Section:
    """Return the table of the hoses of a kind, its rows asked for page by page."""
    filters = {"application_class": kind[0], "construction": kind[1]}
    view = asked_view(query, hose_columns())
    said = {"words": "One row a stay of one hose at one place, as built from the logs; run hours "
                     "and cycles where a meter tells them to its end."}
    return parts.section(
        "Its hoses",
        ["Newest first. ", parts.download_links("hoses", filters)],
        grids.grid("life-cell-hoses", hose_columns(), filters=filters, filter_names=tuple(filters),
                   page_rows=10, n_rows=n_lives, label="Hoses of this kind", view=view),
        not_offered(view.faults),
        how=parts.how(said, "The last column names file and row.", as_of),
    )  # fmt: skip


def hose_columns() -> list[dict[str, Any]]:
    """Return the columns of the table of hoses."""
    return [
        grids.column("service_point", "Place and hose", "Place", called="place", width=210,
                     minWidth=135),
        grids.column("age_days", "Life", "TwoLines", called="life", width=190, minWidth=95),
        grids.column("removal_reason", "How it ended", "TwoLines", called="end", width=190,
                     minWidth=125),
        grids.column("installation_row", "Rows in the logs", "TwoLines", called="row", width=290,
                     minWidth=170, **WIDE),
    ]  # fmt: skip


def hose_cells(rows: Sequence[Row]) -> list[dict[str, Any]]:
    """Return what the columns of the table of hoses draw."""
    return [
        {
            "service_point": {"text": row["service_point"],
                              "href": parts.place_href(row["service_point"]),
                              "below": f"{row['hose_id'] or 'no tag'}, fitted "
                                       f"{words.date(row['installed_on'])}"},
            "age_days": {"first": words.days(row["age_days"]), "below": _age_note(row)},
            "removal_reason": {"first": words.reason(row["removal_reason"]), "below": _end(row)},
            "installation_row": {"first": _source(row, "installation"),
                                 "below": _source(row, "removal")},
        }
        for row in rows
    ]  # fmt: skip


def _age_note(row: Row) -> str:
    said = []
    if row["exclusion"]:
        said.append(f"not fitted: {row['exclusion']}")
    elif row["kind"] == "interval":
        said.append(f"failed between {row['age_low_days']:,.0f} and {row['age_high_days']:,.0f}")
    elif row["entry_age_days"]:
        said.append(f"watched from day {row['entry_age_days']:,.0f}")
    return ", ".join([*said, *_read(row)])


def _read(row: Row) -> list[str]:
    """Return what a hose ran by its meters, a range where it was found failed."""
    said = []
    for name, clock in clocks.CLOCKS.items():
        low, high = row.get(f"{name}_low"), row.get(f"{name}_high")
        if low is not None:
            to = f" to {high:,.0f}" if high is not None and high > low else ""
            said.append(f"{low:,.0f}{to} {clock.short}")
    return said


def _end(row: Row) -> str:
    when = words.date(row["removed_on"]) if row["removed_on"] else ""
    by = words.mechanism(row["mechanism"]) if row["kind"] != "suspended" else ""
    return ", ".join(filter(None, (by, when)))


def _source(row: Mapping[str, Any], kind: str) -> str:
    name, number = row[f"{kind}_file"], row[f"{kind}_row"]
    return f"{name}, row {number:,}" if name and number else ""
