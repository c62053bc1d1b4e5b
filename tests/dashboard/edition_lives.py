"""Comparisons, recurrence and survival at places of the invented fleet for page tests."""

from __future__ import annotations

import math

import numpy as np

from tests.dashboard.edition_fleet import CLASSES, Row

READ = {"run_hours": (("homogeniser discharge", "vacuum line"), 12.0),
        "cycles": (("nitrogen transfer",), 4.0)}
"""Classes that meters are read in, and what a hose runs a day there."""

KIND = ("application_class", "construction")


def comparisons(fits: list[Row]) -> list[Row]:
    """Return every pair of fits of one mechanism that shares a class or a construction."""
    rows: list[Row] = []
    for one in fits:
        for two in fits:
            same = [one[name] == two[name] for name in KIND]
            if one["mechanism"] != two["mechanism"] or sum(same) != 1:
                continue
            row: Row = {name: one[name] for name in (*KIND, "mechanism")}
            row |= {f"other_{name}": two[name] for name in KIND}
            for prefix, fit in (("", one), ("other_", two)):
                row |= {f"{prefix}{name}": fit[name] for name in ("n_failures", "n_suspensions")}
            for name, column in (("b10", "pooled_b10_days"), ("shape", "shape"), (
                    "characteristic_life", "pooled_characteristic_life_days")):
                known = one[column] is not None and two[column] is not None
                ratio = one[column] / two[column] if known else None
                row |= {f"{name}_ratio": ratio, f"{name}_ratio_lower": ratio and ratio / 1.4,
                        f"{name}_ratio_upper": ratio and ratio * 1.4,
                        f"longer_{name}_probability": ratio and ratio / (1 + ratio)}
            del row["longer_shape_probability"]
            some = one["n_failures"] + two["n_failures"] > 0
            row |= {"shape_p_value": 0.3 if row["shape_ratio"] else None, "life_p_value": 0.02,
                    "law_p_value": 0.04, "log_rank_p_value": 0.0004 if some else None,
                    "log_rank_early_p_value": 0.03 if some else None,
                    "log_rank_late_p_value": 0.0002 if some else None}
            rows.append(row)
    return rows


def place_survival(places: list[Row], ranking: list[Row]) -> list[Row]:
    """Return survival by age at every place with a hose in service."""
    rates = {row["service_point"]: row for row in ranking}
    rows = []
    for place in places:
        rate = rates.get(place["service_point"])
        if place["hose_id"] is None or rate is None:
            continue
        scale, shape, *_ = CLASSES[place["application_class"]]
        for age in np.linspace(0.0, 2.5 * scale, 20):
            hazard = (age / scale) ** shape
            rows.append({"service_point": place["service_point"], "age_days": float(age)} | {
                f"survival{end}": math.exp(-hazard * rate[f"relative_rate{other}"])
                for end, other in (("", ""), ("_lower", "_upper"), ("_upper", "_lower"))})
    return rows


def recurrence() -> dict[str, list[Row]]:
    """Return how failures add up in every class; the last one has too few for a trend."""
    curves, trends = [], []
    for number, name in enumerate(CLASSES):
        label = {"application_class": name}
        few = number == len(CLASSES) - 1
        for age in range(200, 600 if few else 3200, 200):
            mean = 0.4 * (age / 365) ** (0.9 + 0.1 * number)
            curves.append(label | {"age_days": float(age), "n_places": 10 - age // 400,
                                   "mean": mean, "lower": mean / 1.3, "upper": mean * 1.3})
        trends.append(label | {
            "n_places": 10, "n_failures": 2 if few else 40 - number, "place_years": 80.0,
            "shape": None if few else 0.9 + 0.2 * number,
            "shape_lower": None if few else 0.7 + 0.2 * number,
            "shape_upper": None if few else 1.1 + 0.2 * number,
            "laplace_statistic": None if few else 0.7 * number,
            "laplace_p_value": None if few else 0.5 / (1 + number),
            "total_log_statistic": None if few else 0.8 * number,
            "total_log_p_value": None if few else 0.4 / (1 + number)})
    return {"mean_cumulative_failures": curves, "recurrence_trends": trends}


def of_groups(places: list[Row], of_class: dict[str, list[Row]]) -> dict[str, list[Row]]:
    """Return the same for the line and the machine of the first place and of the last."""
    curves, trends = [], []
    for place in (places[0], places[-1]):
        for scope in ("line", "equipment"):
            label = {"scope": scope, "site": place["site"], "scope_name": place[scope]}
            if place[scope] is None or any(label.items() <= row.items() for row in trends):
                continue
            of = place["application_class"]
            for table, rows in (("mean_cumulative_failures", curves),
                                ("recurrence_trends", trends)):
                more = {"n_places": 20} if scope == "line" else {}
                rows += [label | {name: value for name, value in row.items()
                                  if name != "application_class"} | more
                         for row in of_class[table] if row["application_class"] == of]
    return {"group_mean_failures": curves, "group_trends": trends}


def by_clocks(out: dict[str, list[Row]]) -> dict[str, list[Row]]:
    """Return the fits of days told by other clocks; one construction of each class has no meter."""
    fits, curves, points = [], [], []
    for clock, (classes, rate) in READ.items():
        unread = max(fit["construction"] for fit in out["fits"])
        for fit in out["fits"]:
            is_read = fit["application_class"] in classes and fit["construction"] != unread
            fits.append(_by_clock(fit, clock, rate if is_read else None))
        for into, table, shares in (
            (curves, "life_curves", ("survival", "survival_lower", "survival_upper")),
            (points, "plot_points", ("failure_probability", "kind")),
        ):
            into += [{name: row[name] for name in (*KIND, "mechanism")} | {
                "clock": clock, "age": row["age_days"] * rate,
                **{name: row[name] for name in shares}} for row in out[table]
                if row["application_class"] in classes and row["construction"] != unread]
    return {"clock_fits": fits, "clock_curves": curves, "clock_points": points}


def _by_clock(fit: Row, clock: str, rate: float | None) -> Row:
    left = 2 if rate else fit["n_lives"]
    row: Row = {name: fit[name] for name in (*KIND, "mechanism", "n_unknown")} | {
        "clock": clock, "n_lives": fit["n_lives"] - left, "n_intervals": 0, "n_cut": 1,
        "n_cut_failures": 0,
        "n_left_out": left, "n_left_out_failures": 0 if rate else fit["n_failures"],
        "n_without_meter": 1 if rate else left, "n_not_from_start": 1 if rate else 0,
        "n_not_run": 0, "status": fit["status"] if rate else "no_lives", "note": None,
        "n_failures": fit["n_failures"] if rate else 0,
        "longest_life": fit["longest_life_days"] * rate if rate else 0.0}
    row["n_suspensions"] = row["n_lives"] - row["n_failures"]
    for end in ("", "_lower", "_upper"):
        row[f"shape{end}"] = fit[f"shape{end}"] if rate else None
        for name in ("b10", "characteristic_life"):
            value = fit[f"{name}_days{end}"]
            row[f"{name}{end}"] = value * rate if rate and value is not None else None
    return row
