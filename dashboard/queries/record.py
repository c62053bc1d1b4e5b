"""What the record of a teardown and the forms of entry ask of an edition."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from dashboard.queries.edition import EditionError, ask, ask_one, cursor
from dashboard.queries.edition import Row as Row

LIFE = """
select l.life_id, l.hose_id, l.service_point, l.installed_on, l.removed_on, l.application_class,
    l.construction, l.kind, l.mechanism, l.removal_reason, p.medium, p.hazards, p.temperature_c,
    p.pressure_bar
from lives as l
left join service_points as p using (service_point)
where l.hose_id is not distinct from $hose
    and ($place is null or l.service_point = $place)
    and (l.removed_on is not distinct from $removed or $removed is null)
order by l.removed_on desc nulls last, l.life_id desc
limit 1
"""

WAITING = """
select l.hose_id, l.service_point, l.removed_on, l.removal_reason, l.mechanism, p.hazards
from lives as l
left join service_points as p using (service_point)
anti join teardown_evidence as e using (life_id)
where l.kind <> 'suspended' and l.removed_on is not null
order by l.removed_on desc, l.service_point, l.life_id
limit $most
"""

FOUND = """
select finding, state
from teardown_findings
where hose_id is not distinct from $hose and service_point is not distinct from $place
    and removed_on is not distinct from $removed
order by finding, state
"""

KNOWN = """
select list(finding order by finding) as findings, list(state order by finding) as states,
    min(confirmed_mechanism) as confirmed_mechanism
from teardown_findings
group by service_point, removed_on, hose_id, life_id
order by service_point, removed_on, hose_id, life_id
"""

FINDINGS = """
select finding, words, looked_at, kind
from finding_vocabulary
order by kind, finding
"""

PLACES = """
select service_point from service_points where list_contains($names, service_point) order by 1
"""

ENTERED_ROWS = """
select log, coalesce(sum(n_clean + n_superseded + n_refused), 0)::bigint as n_rows
from loads
where source_file = log || '.jsonl'
group by log
order by log
"""

ROW = """
select log, source_file, source_row, happened_on, cells, fate
from log_rows
where service_point = $place and log = $log and source_file = $file and source_row = $row
order by happened_on, cells
limit 1
"""

SEATED = """
select service_point, hose_id, construction, part_number, installed_on
from lives
where service_point = $place and installed_on < $day and coalesce(removed_on > $day, true)
order by installed_on desc, life_id desc
limit 1
"""

CORRECTABLE = """
select log, source_file, source_row, happened_on, fate
from log_rows
where service_point = $place and fate <> 'superseded' and log not in ('service_points', 'trials')
order by happened_on desc nulls last, log, source_file, source_row
limit $most
"""


def life(hose: str | None, place: str | None, removed: dt.date | None) -> Row | None:
    """Return the stay that a record is about: the latest one that fits; None if there is none."""
    return ask_one(LIFE, {"hose": hose, "place": place, "removed": removed})


def waiting(most: int) -> list[Row]:
    """Return the latest failures whose hose nobody has taken apart yet."""
    return ask(WAITING, {"most": most})


def found(stay: Row) -> dict[str, str]:
    """Return what the published rows say of a hose, finding to state."""
    rows = ask(FOUND, {"hose": stay["hose_id"], "place": stay["service_point"],
                       "removed": stay["removed_on"]})
    return {row["finding"]: row["state"] for row in rows}


def known() -> list[dict[str, Any]]:
    """Return every teardown of the edition as `etl.entry.running.judge_of` takes it."""
    return [{"found": dict(zip(row["findings"], row["states"], strict=True)),
             "confirmed_mechanism": row["confirmed_mechanism"]} for row in ask(KNOWN)]


def findings() -> list[Row]:
    """Return every finding that may be looked for."""
    return ask(FINDINGS)


def edition_name() -> str:
    """Return which edition answers, so that what was made of it can be kept as long as it does."""
    cursor()
    row = ask_one("select edition, as_of from edition")
    return f"{row['edition']} {row['as_of']}" if row else ""


def places(names: Iterable[str]) -> list[str]:
    """Return which of these service points the register has."""
    return [row["service_point"] for row in ask(PLACES, {"names": sorted(set(names))})]


def all_places() -> list[str]:
    """Return every service point; none where there is no edition yet."""
    try:
        return [row["service_point"] for row in ask(
            "select name as service_point from names where kind = 'place' order by name_no")]
    except EditionError:
        return []


def rows_published() -> dict[str, int]:
    """Return how many entered rows of each log the edition has seen."""
    return {row["log"]: row["n_rows"] for row in ask(ENTERED_ROWS)}


def row_as_loaded(place: str, log: str, file: str, number: int) -> Row | None:
    """Return one row that names a place, with its cells as read."""
    return ask_one(ROW, {"place": place, "log": log, "file": file, "row": number})


def seated(place: str, day: dt.date) -> Row | None:
    """Return the hose that sat at a place before a day and after it; None where none did."""
    return ask_one(SEATED, {"place": place, "day": day})


def correctable(place: str, most: int) -> list[Row]:
    """Return the latest rows of a place that count or were refused."""
    return ask(CORRECTABLE, {"place": place, "most": most})
