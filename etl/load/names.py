"""Guess which of our columns a site's own column name stands for."""

from __future__ import annotations

import difflib
import functools
import re
import unicodedata
from collections.abc import Collection, Iterable

from etl.load.columns import Log
from etl.load.headings import FOREIGN

SYNONYMS: dict[str, str] = {
    "service_point": "position pos location place tag functional_location point asset_position",
    "application_class": "application service duty",
    "site": "plant works factory",
    "area": "department unit building",
    "line": "system production_line loop",
    "equipment": "machine asset equipment_number",
    "medium": "fluid media product",
    "hazards": "hazard danger risk",
    "dn": "nominal_diameter size bore nominal_size diameter",
    "pressure_bar": "pressure press working_pressure operating_pressure",
    "temperature_c": "temperature temp working_temperature operating_temperature",
    "flow_velocity_m_s": "velocity flow_velocity",
    "vibration_mm_s_rms": "vibration vibration_velocity",
    "vibration_hz": "frequency vibration_frequency",
    "natural_frequency_hz": "natural_frequency bump_test bump_test_frequency",
    "live_length_mm": "length live_length",
    "bend_radius_mm": "bend_radius radius",
    "run_hours_per_year": "run_hours duty_hours hours_per_year",
    "records_from": "recorded_since records_since start_of_records",
    "commissioned_on": "commissioning_date date_commissioned first_in_service",
    "retired_on": "retired decommissioned out_of_service date_retired",
    "construction": "hose_type hose_design hose_model",
    "core_alloy": "core alloy core_material material",
    "braid_alloy": "braid braid_material",
    "part_number": "part part_no article item material_number article_number item_number",
    "unit_price": "price cost_each preis stueckpreis prix prezzo precio",
    "lead_time_days": "lead_time delivery_time",
    "installed_on": "installed fitted install_date installation_date date_installed date_fitted"
                    " installation mounted commissioned in_service_date",
    "removed_on": "removed removal_date date_removed replaced replacement_date date_replaced"
                  " failure_date break_date incident_date",
    "hose_id": "hose serial serial_number hose_number hose_tag assembly",
    "work_order": "order wo work_order_number order_number job",
    "reason": "removal_reason why cause reason_code code removal_code failure_code",
    "last_seen_good_on": "last_inspection last_good last_seen",
    "mechanism": "failure_mechanism failure_mode mode damage",
    "part_cost": "material_cost parts_cost hose_cost price cost total_cost costs kosten preis"
                 " materialkosten prix cout costo prezzo precio",
    "labour_cost": "labor_cost work_cost lohnkosten arbeitskosten",
    "downtime_h": "downtime stop hours_down down_hours",
    "other_cost": "extra_cost",
    "planned": "is_planned scheduled",
    "inspected_on": "inspection_date inspected",
    "condition": "result state_found",
    "note": "remark comment notes remarks description",
    "examined_on": "examination_date examined",
    "finding": "observation",
    "examiner": "examined_by",
    "read_on": "reading_date date_read",
    "clock": "meter counter",
    "reading": "meter_value counter_value",
    "as_of": "count_date",
    "on_hand": "stock quantity in_stock qty",
    "on_order": "ordered",
    "due_on": "due due_date",
    "row_id": "record_number row_number objectid",
    "age_at_installation": "initial_age",
    "started_on": "start_date",
    "ended_on": "end_date",
}
"""Words that sites use for a column; from memory of such exports, so only ever a proposal."""
UNACCENTED = str.maketrans(
    {"ø": "o", "æ": "ae", "œ": "oe", "ß": "ss", "ł": "l", "đ": "d", "ð": "d"})
"""Letters that do not come apart into a plain one and an accent."""
ALIKE = 0.8
"""Spellings count as alike from this ratio on: one slip in a short word, two in a long one."""
ALIKE_WORDS = 0.75
LONG_WORD = 8
"""Letters of a word in which two slips are likely (our choice)."""


def suggestion(log: Log, name: str, taken: Iterable[str] = ()) -> str | None:
    """Return our column that a name most likely stands for.

    Parameters
    ----------
    log : Log
        Only its columns come into question.
    name : str
        Column name in the file.
    taken : iterable of str
        Our columns that are filled already.

    Returns
    -------
    str or None
        None where nothing is near enough.

    Examples
    --------
    >>> from etl.load.columns import LOGS
    >>> suggestion(LOGS["installations"], "Date fitted")
    'installed_on'
    """
    used = set(taken)
    scores = {column: likeness(name, column) for column in log.names if column not in used}
    best = max(scores, key=lambda column: scores[column], default=None)
    return best if best is not None and scores[best] > 0 else None


def nearest_source(log_column: str, names: Iterable[str]) -> str | None:
    """Return the file's column that most likely holds one of ours; None where none is near."""
    scores = {name: likeness(name, log_column) for name in names}
    best = max(scores, key=lambda name: scores[name], default=None)
    return best if best is not None and scores[best] > 0 else None


def nearest(name: str, known: Collection[str]) -> str:
    """Return a hint at the nearest known name, or all of them where none is near."""
    near = difflib.get_close_matches(name, list(known), 1, 0.5)
    return f" Did you mean {near[0]!r}?" if near else f" Known: {', '.join(known)}."


def slip_of(word: str, known: Collection[str]) -> str | None:
    """Return the known word of which another one is most likely a slip of the pen.

    Parameters
    ----------
    word : str
    known : collection of str

    Returns
    -------
    str or None
        One that differs by a single letter, by two in a long word, or by the order of its
        letters; None where there is none: a word of another language only looks like a known one.

    Examples
    --------
    >>> [slip_of(word, ["planned", "unknown"]) for word in ("planed", "unknwon", "panne")]
    ['planned', 'unknown', None]
    """
    for near in difflib.get_close_matches(word, sorted(known), 3, ALIKE_WORDS):
        steps = difflib.SequenceMatcher(None, word, near).get_opcodes()
        n_letters = sum(max(end - start, other_end - other_start)
                        for kind, start, end, other_start, other_end in steps if kind != "equal")
        is_long = min(len(word), len(near)) >= LONG_WORD
        if n_letters <= 1 + is_long or sorted(word) == sorted(near):
            return near
    return None


def likeness(name: str, column: str) -> float:
    """Return how well a site's name fits one of our columns; 0 where it does not.

    Examples
    --------
    >>> likeness("Incident date", "removed_on") > likeness("Street", "started_on")
    True
    """
    wanted = _plain(name)
    parts = set(wanted.split("_"))
    best = 0.0
    for word in (column, *SYNONYMS.get(column, "").split(), *FOREIGN.get(column, "").split()):
        ratio = _ratio(wanted, word)
        words = set(word.split("_"))
        if ratio >= ALIKE:
            best = max(best, ratio)
        elif words <= parts:
            best = max(best, ALIKE * len(words) / len(parts))
    return best


def _ratio(wanted: str, word: str) -> float:
    """Return how alike two words are; 0 where their lengths or letters alone forbid `ALIKE`."""
    if (2.0 * min(len(wanted), len(word)) < ALIKE * (len(wanted) + len(word))
            or set(wanted).isdisjoint(word)):
        return 0.0
    match = difflib.SequenceMatcher(None, wanted, word)
    return match.ratio() if match.quick_ratio() >= ALIKE else 0.0


@functools.lru_cache(maxsize=10_000)
def _plain(name: str) -> str:
    """Write a name as our names are written."""
    bare = "".join(sign for sign in unicodedata.normalize("NFKD", name)
                   if not unicodedata.combining(sign))
    split = re.sub(r"(?<=[a-z])(?=[A-Z])", "_", bare.strip())
    return re.sub(r"[^a-z0-9]+", "_", split.casefold().translate(UNACCENTED)).strip("_")
