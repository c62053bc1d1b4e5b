"""An invented track record for page tests: one forecast misses, one span is not over."""

from __future__ import annotations

import datetime as dt
from typing import Any

from tests.dashboard.edition_fleet import Row

BASIS = "as known then"
METHODS = ("forecast", "last year", "constant rate", "plug-in")


def track(places: list[Row]) -> dict[str, list[Row]]:
    """Return the tables of a track record over twelve month ends."""
    return {"track_forecasts": _forecasts(), "track_scores": _scores(),
            "track_flags": _flags(places)}


def month_end(number: int) -> dt.date:
    """Return the end of a month, counted on from October 2025."""
    month = 9 + number
    first = dt.date(2025 + (month + 1) // 12, (month + 1) % 12 + 1, 1)
    return first - dt.timedelta(days=1)


def _forecasts() -> list[Row]:
    rows = []
    for scope, name in (("fleet", "all"), ("site", "North"), ("application_class", "CIP supply")):
        for months in (1, 3, 6, 12):
            for number in range(12):
                mean, is_over = 8.0 * months, number + months <= 12
                missed = number == 4
                rows.append({
                    "as_of": month_end(number), "until": month_end(number + months),
                    "basis": BASIS, "scope": scope, "scope_name": name,
                    "horizon_months": months, "mean": mean, "lower": int(0.5 * mean),
                    "upper": int(1.6 * mean), "lower_50": int(0.8 * mean),
                    "upper_50": int(1.2 * mean),
                    "observed": (int(2 * mean) if missed else int(mean)) if is_over else None,
                    "pit": 0.5 if is_over else None, "crps": 1.5 if is_over else None,
                    "last_year_mean": 1.1 * mean, "constant_rate_mean": mean,
                    "plug_in_mean": mean, "cost_mean": 100 * mean,
                    "cost_observed": 90 * mean if is_over else None})
    return rows


def _score(scope: str, months: int, method: str, measure: str, value: float | None,
           spread: float | None, expected: float | None = None, band: str = "") -> Row:
    known = value is not None and spread is not None
    return {
        "basis": BASIS, "scope": scope, "horizon_months": months, "method": method,
        "measure": measure, "band": band, "value": value,
        "lower": value - spread if known else None, "upper": value + spread if known else None,
        "expected": expected, "n_forecasts": 12, "n_origins": 12,
        "n_windows_apart": 12 // months if months else 1, "range_by": "months" if known else ""}


def _scores() -> list[Row]:
    rows = []
    for scope in ("fleet", "site", "application_class", "line", "part"):
        for months in (1, 3, 6, 12):
            spread = None if scope == "fleet" and months > 3 else 0.05
            one: list[Any] = [scope, months, "forecast"]
            rows += [_score(*one, "coverage_90", 0.92, spread, 0.9),
                     _score(*one, "bias", 0.12 if months == 12 else 0.03, spread, 0.0)]
            for rival in METHODS[1:]:
                gain = -0.20 if rival == "constant rate" and months == 12 else 0.10
                rows += [_score(scope, months, rival, "gain", gain, spread),
                         _score(scope, months, rival, "nearer", 0.75, spread, 0.5)]
    for months in (3, 12):
        rows += [_score("place", months, "forecast", "chance_band", 0.03, 0.01, 0.031,
                        "0 % to 5 %"),
                 _score("place", months, "forecast", "chance_band", 0.30, 0.02, 0.20,
                        "10 % to 20 %")]
        rows += [_score("place", months, rival, "brier_gain", 0.2, 0.05) for rival in METHODS[1:]]
    rows += [_score("flagged place", 0, "forecast", "flag_ratio", 2.1, 0.6, 2.4),
             _score("flagged place", 0, "forecast", "flag_faster", 0.75, 0.2)]
    return rows


def _flags(places: list[Row]) -> list[Row]:
    return [{"as_of": month_end(number % 12), "basis": BASIS,
             "service_point": place["service_point"],
             "application_class": place["application_class"], "n_origins_flagged": 5,
             "relative_rate": 2.2, "observed_failures": 6, "failures_expected_so_far": 2.1,
             "days_since": 300 - number, "failed_since": number % 3,
             "like_failed_since": None if number == 3 else 0.4,
             "n_like": 0 if number == 3 else 12}
            for number, place in enumerate(places[:12])]
