"""The remaining published tables of the invented fleet for page tests."""

from __future__ import annotations

import datetime as dt
import json
import math

import numpy as np

from tests.dashboard.edition_fleet import AS_OF, CLASSES, CONSTRUCTIONS, FACTORS, MECHANISMS, Row


def fits(lives: list[Row]) -> dict[str, list[Row]]:
    """Return fits, curves, plotting points, tests and incidence for every cell with a life."""
    out: dict[str, list[Row]] = {name: [] for name in (
        "fits", "life_curves", "plot_points", "fit_tests", "cumulative_incidence",
        "free_survival")}
    for name, (scale, shape, *_) in CLASSES.items():
        for construction, factor in zip(CONSTRUCTIONS, FACTORS, strict=True):
            own = [life for life in lives if life["application_class"] == name
                   and life["construction"] == construction]
            if not own:
                continue
            for mechanism in ["all", *MECHANISMS[:3]]:
                part = 1.0 if mechanism == "all" else 1.6
                _cell(out, own, {"application_class": name, "construction": construction,
                                 "mechanism": mechanism}, scale * factor * part, shape)
    return out


def _cell(out: dict[str, list[Row]], own: list[Row], key: Row, scale: float,
          shape: float) -> None:
    failed = sorted(life["age_low_days"] for life in own if life["kind"] != "suspended"
                    and key["mechanism"] in ("all", life["mechanism"]))
    n = len(failed)
    status = "fitted" if n >= 5 else "few_failures" if n > 1 else (
        "shape_not_estimable" if n else "no_failures")
    spread, wide = 1.645 / math.sqrt(n + 2), 1.645 / math.sqrt(max(n, 1) * 0.6)
    b10 = scale * (-math.log(0.9)) ** (1 / shape)
    row: Row = key | {
        "n_unknown": sum(life["mechanism"] == "unknown" for life in own),
        "b10_days_if_unknown_failed": b10 * 0.9 if n > 1 and key["mechanism"] == "all" else None,
        "n_lives": len(own), "n_failures": n, "n_intervals": n // 6, "n_suspensions": len(own) - n,
        "status": status, "note": "" if n >= 5 else f"{n} failures only; the range is wide",
        "own_data_share": n / (n + 3), "longest_life_days": max(s["age_low_days"] for s in own),
        "mean_life_days": scale * math.gamma(1 + 1 / shape),
        "log_likelihood": -7.1 * n if n else None,
        "failures_expected": 0.8 * n + 0.5, "failures_expected_lower": 0.4 * n + 0.1,
        "failures_expected_upper": 1.6 * n + 2.0, "expected_p_value": 0.4 / (1.0 + 0.1 * n),
    }
    for prefix, width, known in (("", wide, n > 1), ("pooled_", spread, True)):
        for column, value in (("shape", shape), ("characteristic_life_days", scale),
                              ("b10_days", b10)):
            shown = known and not (prefix and column == "shape" and key["mechanism"] == "all")
            row[prefix + column] = value if shown else None
            row[prefix + column + "_lower"] = value * math.exp(-width) if shown else None
            row[prefix + column + "_upper"] = value * math.exp(width) if shown else None
    out["fits"].append(row)
    for age in np.linspace(0, 2.2 * scale, 45):
        curve: Row = key | {"age_days": float(age)}
        for prefix, width, known in (("survival", spread, True), ("survival_alone", wide, n > 1)):
            for suffix, factor in (("", 1), ("_lower", math.exp(-width / 2)),
                                   ("_upper", math.exp(width / 2))):
                value = math.exp(-((age / (scale * factor)) ** shape))
                curve[prefix + suffix] = value if known else None
        out["life_curves"].append(curve)
        if key["mechanism"] != "all":
            share = 0.3 * (1 - math.exp(-((age / scale) ** shape)))
            out["cumulative_incidence"].append(
                key | {"age_days": float(age), "probability": share})
    for i, age in enumerate(failed):
        out["plot_points"].append(key | {
            "age_days": age, "failure_probability": (i + 0.7) / (len(own) + 0.4),
            "kind": "interval" if i % 6 == 5 else "failed"})
    if n // 6:
        out["free_survival"] += [key | {
            "start_days": start * scale, "end_days": end and end * scale, "failed_share": share,
            "survival_before": before, "survival_after": end and before - share,
            "is_settled": True,
        } for start, end, share, before in ((0.4, 0.4, 0.3, 1.0), (0.6, 0.9, 0.5, 0.7),
                                            (1.1, None, 0.2, 0.2))]
    out["fit_tests"].append(key | {
        "rank_regression_shape": shape * 1.05 if n > 1 else None,
        "rank_regression_characteristic_life_days": scale * 0.97 if n > 1 else None,
        "best_distribution": "Weibull" if n > 4 else None, "aicc_weibull": 14.2 * n,
        "aicc_lognormal": 14.2 * n + 1.1, "aicc_exponential": 14.2 * n + 6.0,
        "words": "the Weibull line is consistent with the points" if n > 4
        else "too few failures to judge the line", **_judged(n, scale)})


def _judged(n: int, scale: float) -> Row:
    """Return what examining a fit found: from ten failures on."""
    if n < 10:
        return {"three_parameter_outcome": "not_tried"}
    return {"n_failures_judged": n, "anderson_darling": 0.4, "anderson_darling_p_value": 0.34,
            "plot_correlation": 0.97, "plot_correlation_p_value": 0.02,
            "three_parameter_outcome": "estimate", "three_parameter_location_days": 0.2 * scale,
            "three_parameter_shape": 1.4, "three_parameter_scale_days": 0.8 * scale,
            "aicc_three_parameter": 14.2 * n + 0.4, "mixture_p_value": 0.03,
            "mixture_early_share": 0.12, "mixture_early_life_days": 0.1 * scale,
            "mixture_late_life_days": 1.1 * scale}


def months(lives: list[Row], places: list[Row]) -> dict[str, list[Row]]:
    """Return 24 months of history and 12 months of forecast for every scope."""
    site = {place["service_point"]: place for place in places}
    scopes = [("fleet", "all")]
    scopes += [(scope, name) for scope in ("site", "line", "application_class")
               for name in sorted({_scope(place, scope) for place in places})]
    history, forecast = [], []
    for scope, name in scopes:
        gone = [life for life in lives if life["removed_on"] and (
            scope == "fleet" or _scope(site[life["service_point"]], scope) == name)]
        monthly = []
        for back in range(23, -1, -1):
            month = _month(-back)
            here = [life for life in gone if life["removed_on"].replace(day=1) == month]
            failed = sum(life["kind"] != "suspended" for life in here)
            cost, cost_of_failures = (
                sum(sum(float(life[c] or 0) for c in ("part_cost", "labour_cost", "other_cost"))
                    for life in rows)
                for rows in (here, [life for life in here if life["kind"] != "suspended"]))
            if not here:
                continue
            history.append({"month": month, "scope": scope, "scope_name": name,
                            "n_removed": len(here), "n_failed": failed,
                            "n_planned": len(here) - failed, "cost": cost,
                            "cost_of_failures": cost_of_failures})
            monthly.append((failed, cost))
        mean = sum(f for f, _ in monthly[-12:]) / 12 + 0.2
        each = sum(c for _, c in monthly) / max(1, sum(f for f, _ in monthly))
        for ahead in range(1, 13):
            now = mean * (1 + 0.1 * math.sin(ahead))
            low, high = max(0.0, now - 1.6 * math.sqrt(now)), now + 1.9 * math.sqrt(now)
            forecast.append({"month": _month(ahead), "scope": scope, "scope_name": name,
                             "mean": now, "lower": low, "upper": high, "cost_mean": now * each,
                             "cost_lower": low * each, "cost_upper": high * each})
    return {"history": history, "forecast": forecast}


def _scope(place: Row, scope: str) -> str:
    return f"{place['site']}, {place['line']}" if scope == "line" else place[scope]


def _month(offset: int) -> dt.date:
    whole = AS_OF.year * 12 + AS_OF.month - 1 + offset
    return dt.date(whole // 12, whole % 12 + 1, 1)


def log_rows(lives: list[Row]) -> list[Row]:
    """Return the rows as loaded behind every life, and one refused and one superseded row."""
    rows = []
    for life in lives:
        base = {"service_point": life["service_point"], "fate": "used"}
        cells = {"service_point": life["service_point"], "hose_id": life["hose_id"],
                 "installed_on": str(life["installed_on"]), "construction": life["construction"]}
        rows.append(base | {"log": "installations", "source_file": "installations.csv",
                            "source_row": life["installation_row"], "cells": json.dumps(cells),
                            "happened_on": life["installed_on"]})
        if life["removed_on"]:
            cells = {"service_point": life["service_point"], "reason": life["removal_reason"],
                     "removed_on": str(life["removed_on"]), "labour_cost": life["labour_cost"]}
            rows.append(base | {"log": "replacements", "source_file": "replacements.csv",
                                "source_row": life["removal_row"], "cells": json.dumps(cells),
                                "happened_on": life["removed_on"]})
    first = lives[0]["service_point"]
    for row, fate, when in ((901, "refused", "31/02/2024"), (902, "superseded", "2024-02-28")):
        cells = {"service_point": first, "removed_on": when}
        rows.append({"service_point": first, "log": "replacements", "fate": fate,
                     "source_file": "replacements.csv", "source_row": row,
                     "cells": json.dumps(cells), "happened_on": None})
    return rows


def spares() -> list[Row]:
    """Return one line a part; one without a price, one to order, one overstocked."""
    rows = []
    for i, construction in enumerate(CONSTRUCTIONS):
        for dn in (25, 40, 50, 80):
            mean = 0.5 + i + dn / 40
            row: Row = {"part_number": f"{construction}-{dn}", "construction": construction,
                        "dn": dn, "n_places": 3 + i, "mean": mean / 2, "on_hand": (i * dn) % 7,
                        "on_order": i % 2, "service_level": 0.95, "reorder_point": 1 + i,
                        "service_level_reason": "downtime is dear", "lead_time_days": 42.0 + i,
                        "planned_12_months": 0.4 * i,
                        "stock_level": 2 + i, "order_now": (i + dn) % 3,
                        "unit_price": None if dn == 80 and i == 3 else 180.0 + 2 * dn,
                        "price_on": None if dn == 80 and i == 3 else dt.date(2026, 10, 20),
                        "reason": "stock lasts less than the lead time"}
            for span in (3, 6, 12):
                row |= {f"mean_{span}_months": mean * span / 12,
                        f"lower_{span}_months": mean * span / 24,
                        f"upper_{span}_months": mean * span / 7,
                        f"stock_{span}_months": math.ceil(mean * span / 7)}
            if row["unit_price"]:
                for suffix, factor in (("", 1.0), ("_lower", 0.6), ("_upper", 1.6)):
                    row["budget_12_months" + suffix] = row["unit_price"] * mean * factor
            if i == 3 and dn == 25:
                row |= {"order_now": None, "on_hand": None, "reason": "stock is not recorded"}
            rows.append(row)
    return rows


def health(places: list[Row], lives: list[Row]) -> dict[str, list[Row]]:
    """Return what was loaded, refused, corrected and doubted."""
    name = places[0]["service_point"]
    loads = [(log, f"{log}.csv", n) for log, n in (
        ("installations", len(lives)), ("replacements", len(lives) - 50), ("inspections", 120),
        ("service_points", 60))]
    return {
        "loads": [{"source_file": file, "log": log, "loaded_on": AS_OF, "exported_on": AS_OF,
                   "n_records": n, "n_blank": 1, "n_skipped": 7, "n_left_out": 5, "n_clean": n - 4,
                   "n_superseded": 1, "n_refused": 3, "status": "loaded", "message": None}
                  for log, file, n in loads]
        + [{"source_file": "stock.xlsx", "log": "stock", "loaded_on": AS_OF, "n_records": 0,
            "status": "refused", "message": "stock.xlsx: is password-protected. Save it without."}],
        "refused": [{"log": "replacements", "source_file": "replacements.csv",
                     "source_row": 901 + i, "column_name": "removed_on", "value": "31/02/2024",
                     "reason": "not a date like 2024-02-29", "remedy": "correct the date"}
                    for i in range(12)],
        "superseded": [{"log": "replacements", "source_file": "replacements.csv",
                        "source_row": 902, "cause": "corrected"}],
        "corrections": [{"source_file": "stock.xlsx", "log": "stock", "column_name": "as_of",
                         "what": "serial dates read as dates", "n_cells": 14, "example": "45000"}],
        "findings": [{"finding": "implied removal", "service_point": name, "hose_id": "H10000",
                      "happened_on": dt.date(2023, 3, 4), "source_file": "installations.csv",
                      "source_row": 17, "detail": "another hose went in the same day"}],
        "exclusions": [{"exclusion": "installed on the data date", "n_lives": 2}],
        "exclusion_files": [{"exclusion": "installed on the data date", "source_file":
                             "installations.csv", "n_lives": 2}],
        "doubts": [{"doubt": "removals without a reason", "n_rows": 41, "effect":
                    "if all were failures, 3 of the ten places would change"}],
        "optional_logs": [{"log": "teardowns", "n_rows": 0, "adds": "evidence of why hoses fail"},
                          {"log": "inspections", "n_rows": 120, "adds": "found failures"}],
        "formulas": [{"key": "b10", "position": 1, "formula": "S(t) = exp(−(t/η)^β)",
                      "meaning": "Share still running at age t.", "source": "a handbook"}],
        "glossary": [{"term": "stay", "meaning": "The time of one hose at one place."},
                     {"term": "B10", "meaning": "Age by which one hose in ten has failed."},
                     {"term": "interval (90 % range)", "meaning": "Holds nine times in ten."}],
        "log_columns": [{"log": "stock", "position": 1, "column_name": "part_number",
                         "kind": "tag", "unit": "", "is_required": True, "meaning": "part",
                         "words": ""}],
        "method_notes": [
            {"key": "survival_here", "title": "Survival at a place", "words":
             "The law of the kind at the place's own rate of failing."},
            {"key": "expected_cost", "title": "Expected cost", "words":
             "Expected failures in the next 12 months times the cost of one failure here."},
            {"key": "forecast", "title": "Forecast", "words":
             "Every hose in service is followed month by month with its renewals."},
            {"key": "relative_rate", "title": "Against like places", "words":
             "Failures seen over failures expected of like places, drawn towards 1."},
            {"key": "b10", "title": "Survival", "words":
             "Weibull lives, pooled over classes and constructions; 90 % bounds."}],
    }


def cost_curve(ranking: list[Row]) -> list[Row]:
    """Return how much of the cost the first places make."""
    costs = [row["expected_cost"] or 0.0 for row in ranking]
    total, so_far, rows = sum(costs), 0.0, []
    for n, cost in enumerate(costs, start=1):
        so_far += cost
        rows.append({"n_places": n, "share_of_cost": so_far / total})
    return rows
