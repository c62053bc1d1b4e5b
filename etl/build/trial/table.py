"""What there is to choose from: constructions, their derating, and what trials have decided."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import duckdb
import pandas as pd

from etl.decide.eligibility import Candidate
from etl.decide.trial.words import verdicts


@dataclass(frozen=True)
class Constructions:
    """What there is to choose from: catalogue, derating, and what trials have decided."""

    catalogue: list[Candidate]
    derating: dict[str, list[tuple[float, float]]]
    verdicts: Mapping[str, Mapping[str, bool]]
    """Application class to construction to whether it was adopted."""
    prices: Mapping[tuple[str, float], float]
    """Construction and nominal size to what a hose costs, where parts have prices."""

    def extra_price(self, construction: str, present: str, dn: float | None) -> float:
        """Return by how much one construction is dearer than another; 0 where unknown."""
        if dn is None:
            return 0.0
        own, now = (self.prices.get((name, dn)) for name in (construction, present))
        return 0.0 if own is None or now is None else own - now


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


def prices(con: duckdb.DuckDBPyConnection) -> dict[tuple[str, float], float]:
    """Read the median price of a hose by construction and nominal size."""
    return {(name, dn): price for name, dn, price in con.execute(
        "select construction, dn::double, median(unit_price)::double from clean.parts "
        "where construction is not null and dn is not null and unit_price is not null "
        "group by construction, dn order by construction, dn").fetchall()}


def decided(con: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    """Read what decided trials say of constructions in an application class.

    Returns
    -------
    DataFrame
        trial, application_class, construction, is_adopted, decision, decided_on; one row a
        construction; a decision that names no arm gives none.
    """
    rows = con.execute(
        """
        select t.trial, p.application_class, t.decision, max(t.ended_on) as ended_on,
            list(distinct (t.arm, t.construction) order by (t.arm, t.construction)) as fitted
        from clean.trials as t join clean.service_points as p using (service_point)
        where t.decision is not null
        group by t.trial, p.application_class, t.decision
        having count(distinct t.arm) = 2
            and count(distinct (t.arm, t.construction)) = 2
        order by ended_on nulls first, t.trial, p.application_class, t.decision
        """
    ).fetchall()
    found = [
        {"trial": trial, "application_class": kind, "construction": construction,
         "is_adopted": is_adopted, "decision": decision, "decided_on": ended}
        for trial, kind, decision, ended, fitted in rows
        for construction, is_adopted in verdicts(decision, dict(fitted)).items()
    ]
    return pd.DataFrame(found, columns=["trial", "application_class", "construction",
                                        "is_adopted", "decision", "decided_on"])


def verdicts_by_class(found: pd.DataFrame) -> dict[str, dict[str, bool]]:
    """Return the latest verdict on each construction of each class."""
    out: dict[str, dict[str, bool]] = {}
    for row in found.itertuples(index=False):
        out.setdefault(str(row.application_class), {})[str(row.construction)] = bool(row.is_adopted)
    return out


def adopted_by_class(verdicts: Mapping[str, Mapping[str, bool]]) -> dict[str, str]:
    """Return the construction that a trial has adopted in each class that has one."""
    return {name: min(chosen) for name, known in verdicts.items()
            if (chosen := [construction for construction, is_in in known.items() if is_in])}


def places_in_trial(con: duckdb.DuckDBPyConnection) -> set[str]:
    """Return the places of trials that are neither ended nor decided."""
    return {row[0] for row in con.execute(
        "select distinct service_point from clean.trials "
        "where ended_on is null and decision is null order by 1").fetchall()}
