"""Trial candidates: the places, the mates and the two constructions, as a frame."""

from __future__ import annotations

from collections.abc import Mapping

import duckdb
import pandas as pd

from etl.build.words import hazard_words
from etl.decide.eligibility import Candidate, Duty
from etl.decide.next_step import TRIAL_SHARE
from etl.decide.trials import (
    TRIAL_MECHANISMS,
    cautions,
    contrasting_pair,
    months_to_failures,
)
from etl.decide.words import percent

LISTED = 20
"""Longest list of candidates; nobody starts more trials than that."""

TOO_SLOW_MONTHS = 60.0
"""A trial that needs longer than this to tell is no candidate."""

LEAST_FAILURES = 2
LEAST_EXPECTED = 0.5
"""Failures so far, and failures expected in a year, below which a trial would never read out."""

COLUMNS = [
    "rank", "service_point", "mate", "mechanism", "expected_failures_12_months", "expected_cost",
    "present_construction", "flexible_construction", "flexible_reason", "stiff_construction",
    "stiff_reason", "stiffness_ratio", "mass_ratio", "months_to_ten_failures", "reason",
    "cautions",
]


def catalogue(con: duckdb.DuckDBPyConnection) -> list[Candidate]:
    """Read the constructions, one entry a nominal size."""
    rows = con.execute(
        """
        select construction, dn, core_alloy, rated_pressure_bar, min_bend_radius_dynamic_mm,
            bending_stiffness_n_m2, mass_kg_per_m
        from clean.constructions order by construction, dn
        """
    ).fetchall()
    return [Candidate(*row) for row in rows]


def derating(con: duckdb.DuckDBPyConnection) -> dict[str, list[tuple[float, float]]]:
    """Read the derating table of each alloy, rising in temperature."""
    table: dict[str, list[tuple[float, float]]] = {}
    for alloy, temperature, share in con.execute(
        "select core_alloy, temperature_c::double, share::double from seeds.derating order by 1, 2"
    ).fetchall():
        table.setdefault(str(alloy), []).append((temperature, share))
    return table


def trial_candidates(
    con: duckdb.DuckDBPyConnection,
    places: pd.DataFrame,
    mechanism: Mapping[str, tuple[str, float]],
    *,
    failures_wanted: int,
) -> pd.DataFrame:
    """List the places where a side-by-side trial would pay, best first.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds ``clean.constructions`` and ``seeds.derating``.
    places : DataFrame
        One row a service point in rank order, with columns service_point, application_class,
        site, line, dn, hazards, pressure_bar, temperature_c, bend_radius_mm, construction,
        expected_failures, expected_cost, observed_failures, is_failure_prone.
    mechanism : mapping of service point to (mechanism, share)
        Commonest concluded mechanism of its failures, ``unknown`` when none is concluded.
    failures_wanted : int
        Failures after which the trial starts to tell.

    Returns
    -------
    DataFrame
        A place without a contrast, without a failure, or whose mechanism asks for another cure
        is left out.
    """
    hoses, strength, names = catalogue(con), derating(con), _mechanism_names(con)
    rows: list[dict[str, object]] = []
    listed: set[tuple[object, ...]] = set()
    for place in places.itertuples(index=False):
        if len(rows) == LISTED:
            break
        cause, share = mechanism.get(str(place.service_point), ("unknown", 0.0))
        line = (place.application_class, place.site, place.line, place.dn)
        if line in listed or not _would_pay(place, cause, share):
            continue
        pair = contrasting_pair(hoses, _duty(place), strength)
        alike = _alike(place, places)
        rate = float(alike["expected_failures"].sum()) / 12.0
        months = months_to_failures(rate, failures_wanted)
        if isinstance(pair, str) or months > TOO_SLOW_MONTHS:
            continue
        listed.add(line)
        mate = alike[alike["service_point"] != place.service_point]
        rows.append({
            "rank": len(rows) + 1, "service_point": place.service_point,
            "mate": None if mate.empty else str(mate["service_point"].iloc[0]),
            "mechanism": cause, "expected_failures_12_months": place.expected_failures,
            "expected_cost": place.expected_cost, "present_construction": place.construction,
            "flexible_construction": pair.flexible, "flexible_reason": pair.flexible_reason,
            "stiff_construction": pair.stiff, "stiff_reason": pair.stiff_reason,
            "stiffness_ratio": pair.stiffness_ratio, "mass_ratio": pair.mass_ratio,
            "months_to_ten_failures": months,
            "reason": _reason(place, names.get(cause), share, len(alike)),
            "cautions": cautions(hazard_words(place.hazards)),
        })
    return pd.DataFrame(rows, columns=COLUMNS)


def _mechanism_names(con: duckdb.DuckDBPyConnection) -> dict[str, str]:
    """Return the mechanisms as a person would say them."""
    rows = con.execute("select mechanism, short from seeds.mechanisms order by 1").fetchall()
    return {mechanism: name for mechanism, name in rows if mechanism != "unknown"}


def _duty(place: object) -> Duty:
    """Return what the register says of the place's duty."""
    names = ("dn", "pressure_bar", "temperature_c", "bend_radius_mm")
    return Duty(*(_known(getattr(place, name)) for name in names))


def _would_pay(place: object, cause: str, share: float) -> bool:
    """Tell whether a trial at the place could pay and read out."""
    expected = _known(getattr(place, "expected_failures", None))
    failures = _known(getattr(place, "observed_failures", None)) or 0.0
    return (
        expected is not None and expected >= LEAST_EXPECTED and failures >= LEAST_FAILURES
        and (cause in TRIAL_MECHANISMS or share < TRIAL_SHARE)
    )


def _alike(place: object, places: pd.DataFrame) -> pd.DataFrame:
    """Return the place and the like places on its line, failing most first.

    Like places have the same class and nominal size and a hose in service; a place without a
    line stands alone.
    """
    same = places["service_point"] == getattr(place, "service_point", None)
    if not pd.isna(getattr(place, "line", None)):
        same |= (
            (places["application_class"] == getattr(place, "application_class", None))
            & (places["site"] == getattr(place, "site", None))
            & (places["line"] == getattr(place, "line", None))
            & (places["dn"] == getattr(place, "dn", None)) & places["construction"].notna()
        )
    return places[same].sort_values(
        ["expected_failures", "service_point"], ascending=[False, True]
    )


def _reason(place: object, cause: str | None, share: float, n_alike: int) -> str:
    """Say why the place is a candidate."""
    failures = int(_known(getattr(place, "observed_failures", None)) or 0)
    faster = "fails faster than its peers" if getattr(place, "is_failure_prone", False) else (
        "among the dearest places")
    known = (f"{percent(share)} of {failures} failures by {cause}" if cause
             else f"mechanism unknown in most of {failures} failures")
    line = f"; {n_alike} like places on the line" if n_alike > 1 else "; no like place on its line"
    return f"{faster}; {known}{line}"


def _known(value: object) -> float | None:
    """Return a number, or None where the register is silent."""
    return None if value is None or value is pd.NA else _finite(float(str(value)))


def _finite(value: float) -> float | None:
    return value if value == value else None
