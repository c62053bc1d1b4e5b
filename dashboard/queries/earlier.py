"""The edition that stood about a month before: what it said of the same places."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

import flask

from dashboard.queries.edition import (
    CONFIG_KEY,
    NAME,
    EditionError,
    Editions,
    Row,
    as_rows,
    ask,
    info,
)

LEAST_DAYS, MOST_DAYS = 20, 100
"""How much earlier its data date must be, at least and at most, for a change since then to tell."""
AMONG = 20
"""Only places among so many first, then or now, are compared."""
PLACES = """
select r.service_point, r.rank, r.expected_cost, r.expected_cost_lower, r.expected_cost_upper,
    r.observed_failures, r.cost_per_failure, p.hose_id, p.installed_on
from ranking as r
join service_points as p using (service_point)
where r.expected_cost is not null
    and (r.rank <= $among or list_contains($names::varchar[], r.service_point))
order by r.rank, r.service_point
"""


@dataclass(frozen=True)
class Earlier:
    """What an earlier edition and the present one say of the places that lead either.

    Attributes
    ----------
    as_of : date
        Data date of the earlier edition.
    before, now : dict of str to row
        By service point; a place may be in one of them only.
    """

    as_of: dt.date
    before: dict[str, Row]
    now: dict[str, Row]


def compared() -> Earlier | None:
    """Return the places that led about a month ago or lead now; None with nothing to compare with.

    Notes
    -----
    Earlier editions are files beside the current one. One that cannot be read, or is of another
    version, is passed over. They are looked for once an edition, since opening them takes longer
    than all else on a page.
    """
    present, kept = info(), flask.g.edition_opened.kept
    if "earlier" not in kept:
        editions: Editions = flask.current_app.config[CONFIG_KEY]
        found = (_compare(editions, path, present["as_of"]) for path in editions.others())
        kept["earlier"] = next((one for one in found if one is not None), None)
    answer: Earlier | None = kept["earlier"]
    return answer


def _compare(editions: Editions, path: Path, as_of: dt.date) -> Earlier | None:
    if NAME.fullmatch(path.name) is None:
        return None
    try:
        with editions.reading(path) as con:
            (then,) = con.execute("select as_of from edition").fetchall()[0]
            if not LEAST_DAYS <= (as_of - then).days <= MOST_DAYS:
                return None
            leading = [row[0] for row in con.execute(
                "select service_point from ranking where rank <= ? order by rank", [AMONG]
            ).fetchall()]
            now = ask(PLACES, {"among": AMONG, "names": leading})
            names = [row["service_point"] for row in now]
            before = as_rows(con.execute(PLACES, {"among": AMONG, "names": names}))
    except (EditionError, IndexError):
        return None
    return Earlier(then, {row["service_point"]: row for row in before},
                   {row["service_point"]: row for row in now})
