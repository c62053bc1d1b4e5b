"""Parts that could stand in for one another, and what speaks against it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

import duckdb
import pandas as pd

from etl.build.spares.demand import PartDemand
from etl.build.trial.table import catalogue, derating
from etl.decide.eligibility import Candidate, Duty, objection
from etl.decide.spares.law import DemandLaw
from etl.decide.spares.stock import level_with_stand_in

COLUMNS = ["part_number", "stand_in", "stand_in_construction", "basis", "is_approved", "n_places",
           "n_places_met", "objection", "on_hand", "spare", "stock_level_with_stand_in"]
REGISTERED, SAME_BUILD, OTHER_BUILD = (
    "the register says it replaces this part", "same construction, size, length and ends",
    "same size, length and ends, another construction: engineering must approve")

PAIRS = """
select a.part_number, b.part_number as stand_in, b.construction, b.dn,
    coalesce(b.replaces = a.part_number, false) as is_registered,
    coalesce(a.construction = b.construction, false) as is_same_build, b.on_hand
from fit.part_details as a
join fit.part_details as b on a.part_number <> b.part_number and (
    b.replaces = a.part_number
    or (a.dn = b.dn and a.live_length_mm = b.live_length_mm
        and list_sort([a.end_a, a.end_b]) = list_sort([b.end_a, b.end_b])
        and a.end_a is not null and a.end_b is not null))
where a.is_in_service
order by a.part_number, b.part_number
"""
DUTIES = """
select part_number, dn, pressure_bar, temperature_c, bend_radius_mm
from fit.places where part_number is not null order by place
"""


def stand_in_table(
    con: duckdb.DuckDBPyConnection, found: list[PartDemand], advice: pd.DataFrame
) -> pd.DataFrame:
    """List, for each part in service, the parts that could be fitted in its place.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds ``fit.part_details``, ``fit.places``, ``clean.constructions``, ``seeds.derating``.
    found : list of PartDemand
    advice : DataFrame
        From `etl.build.spares.table`.

    Returns
    -------
    DataFrame
        Only pairs that the register names or that agree in size, length and both ends, and of
        those only where the stand-in's construction meets the duty of at least one place.
        ``stock_level_with_stand_in`` is given for pairs that need no approval and meet every
        place: the stock of this part that keeps its level when the other's surplus counts.
    """
    hoses = {(item.construction, item.dn): item for item in catalogue(con)}
    strength = derating(con)
    duties: dict[str, list[Duty]] = {}
    for part, *duty in con.execute(DUTIES).fetchall():
        duties.setdefault(part, []).append(Duty(*duty))
    laws = {str(part.entry["part_number"]): part for part in found}
    stock = dict(zip(advice["part_number"], advice["stock_level"], strict=True))
    rows = []
    for part, other, construction, dn, is_registered, is_same, on_hand in con.execute(
            PAIRS).fetchall():
        against = _objections(hoses.get((construction, dn)), duties.get(part, ()), strength)
        n_places, n_met = len(duties.get(part, ())), against[None]
        if not n_met and not is_registered and not is_same:
            continue
        is_approved = is_registered or is_same
        held = int(stock.get(other, 0))
        level = None
        if is_approved and n_met == n_places and other in laws:
            level = _together(laws[part], laws[other].protection(), held)
        basis = REGISTERED if is_registered else SAME_BUILD if is_same else OTHER_BUILD
        rows.append((part, other, construction, basis, is_approved, n_places, n_met,
                     _commonest(against), on_hand,
                     None if on_hand is None else max(0, on_hand - held), level))
    frame = pd.DataFrame(rows, columns=COLUMNS)
    for column in ("on_hand", "spare", "stock_level_with_stand_in"):
        frame[column] = frame[column].astype("Int64")
    for column in ("stand_in_construction", "objection"):
        frame[column] = frame[column].astype("string")
    return frame


def _objections(
    candidate: Candidate | None, duties: Iterable[Duty],
    strength: dict[str, list[tuple[float, float]]],
) -> Counter[str | None]:
    """Count what speaks against a construction at the places of a part; None where nothing."""
    if candidate is None:
        return Counter("its construction is not in the catalogue" for _ in duties)
    return Counter(objection(candidate, duty, strength) for duty in duties)


def _commonest(against: Counter[str | None]) -> str | None:
    """Return the commonest objection, the first by name among equals."""
    said = sorted(((-n, text) for text, n in against.items() if text is not None))
    return said[0][1] if said else None


def _together(part: PartDemand, stand_in: DemandLaw, stand_in_stock: int) -> int:
    return max(part.service.least, level_with_stand_in(
        part.protection(), part.service.level, stand_in, stand_in_stock))
