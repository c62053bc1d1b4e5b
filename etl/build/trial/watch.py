"""Running and past trials: the stays of both arms, the test, the choice, the safety stop."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import Any

import duckdb
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.statistics import LifeStatistics
from etl.build.trial.arms import LIFE_SPREAD, cell_of
from etl.build.trial.law import KnownBefore, known_before
from etl.build.trial.register import Trial, registered_trials, stays_of
from etl.build.trial.watch_frames import FRAMES, look_rows, stay_rows, trial_row
from etl.decide.trial.posterior import LifeRatio, Prior
from etl.decide.trial.safety import early_limit, must_stop
from etl.decide.trial.sign_flip import LEAST_PAIRS, Looks
from etl.decide.trial.watch import Seen, Stays, claim_test, early_counts, favoured, seen_at
from etl.decide.trial.words import SETTLED_MEAN_LIVES
from etl.life.weibull import mean_life
from etl.settings import Settings

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Watched:
    """Everything that is published of one trial.

    Attributes
    ----------
    trial : Trial
    frame : DataFrame
        Stays that count, with slot, arm and whether fitted as assigned.
    looks : list of date
    seen : Seen
        As assigned.
    ratio, if_unknown_failed, as_treated : LifeRatio
        Second arm over first, at each look.
    test : Looks or None
        None where nothing may be claimed.
    prior : Prior
    limit : float
        Of early failures.
    stopped_arm : str or None
    is_settled : bool
    fitted, early : ndarray, shape (2,)
        Hoses fitted, and those that failed early, by arm.
    """

    trial: Trial
    frame: pd.DataFrame
    looks: list[dt.date]
    seen: Seen
    ratio: LifeRatio
    if_unknown_failed: LifeRatio
    as_treated: LifeRatio
    test: Looks | None
    prior: Prior
    limit: float
    stopped_arm: str | None
    is_settled: bool
    fitted: Floats
    early: Floats


def add_trial_watch(
    con: duckdb.DuckDBPyConnection, found: LifeStatistics, settings: Settings
) -> None:
    """Register the frames of registered trials: state, looks and stays.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds ``clean.trials`` and ``lives``.
    found : LifeStatistics
        Gives the data date, and the shapes of the constructions.
    settings : Settings
    """
    trials = registered_trials(con, found.as_of)
    stays = stays_of(con, trials)
    rows: dict[str, list[dict[str, Any]]] = {name: [] for name in FRAMES}
    for trial in trials:
        mine = stays[stays["application_class"] == trial.application_class]
        watched = watch(trial, mine, found, settings)
        rows["trial_states"].append(trial_row(trial, watched, found.as_of, settings))
        if watched is not None:
            rows["trial_looks"] += look_rows(watched)
            rows["trial_stays"] += stay_rows(watched)
    for name, columns in FRAMES.items():
        con.register(f"{name}_frame",
                     pd.DataFrame(rows[name], columns=list(columns)).astype(dict(columns)))


def watch(
    trial: Trial, stays: pd.DataFrame, found: LifeStatistics, settings: Settings
) -> Watched | None:
    """Look at a trial every month since its start.

    Parameters
    ----------
    trial : Trial
    stays : DataFrame
        Of its class.
    found : LifeStatistics
    settings : Settings

    Returns
    -------
    Watched or None
        None before its first look, and where it has no pair of places.
    """
    looks = look_days(trial.started_on, trial.stop)
    if not trial.pairs or not looks:
        return None
    before = known_before(stays, trial.started_on, settings)
    frame = trial_stays(trial, stays)
    assigned = _arrays(trial, frame, before, frame["slot"])
    treated = _arrays(trial, frame, before, frame["treated_slot"]).only(
        (frame["treated_slot"] >= 0).to_numpy(np.bool_))
    if_failed = replace(assigned, is_failure=assigned.is_failure
                        | frame["is_unknown_reason"].to_numpy(np.bool_))
    days, n = np.array([trial.days(day) for day in looks]), len(trial.pairs)
    seen, seen_if, seen_treated = (
        seen_at(item, days, before.law, n) for item in (assigned, if_failed, treated))
    prior = _prior(trial, before, settings)
    test = None
    if trial.is_registered and n >= LEAST_PAIRS:
        test = claim_test(seen, float(trial.row["planned_failures"]),
                      looks[-1] == trial.planned_end_on, settings.seed)
    limit = trial.row["early_failure_limit"] or early_limit(
        before.law.chance_by(settings.early_failure_days, _mean_rate(trial, before)))
    fitted, early = early_counts(assigned, days, settings.early_failure_days)
    stops = must_stop(fitted, early, float(limit), is_hazardous=trial.is_hazardous)
    stopped = next((arm for side, arm in enumerate(trial.arms) if stops[:, side].any()), None)
    ratio, ratio_if, ratio_treated = (
        favoured(item, prior, settings.confidence) for item in (seen, seen_if, seen_treated))
    return Watched(
        trial, frame, looks, seen, ratio, ratio_if, ratio_treated, test, prior, float(limit),
        stopped, _is_settled(trial, before, found), fitted[-1], early[-1])


def look_days(start: dt.date, stop: dt.date) -> list[dt.date]:
    """Return the last day of each month after the start, and the last day that counts.

    Examples
    --------
    >>> [day.isoformat() for day in look_days(dt.date(2026, 1, 10), dt.date(2026, 3, 15))]
    ['2026-01-31', '2026-02-28', '2026-03-15']
    """
    ends = pd.date_range(start + dt.timedelta(days=1), stop, freq="ME").date.tolist()
    return ends + [stop] if stop > start and (not ends or ends[-1] != stop) else ends


def trial_stays(trial: Trial, stays: pd.DataFrame) -> pd.DataFrame:
    """Return the stays that count: hoses fitted at the places of the pairs since the start.

    Returns
    -------
    DataFrame
        With slot (twice the pair, plus 1 for the second arm), treated_slot (by the construction
        fitted; -1 where it is neither), arm, pair, assigned (construction), is_as_assigned, begin
        and end in days after the start, is_failure.
    """
    seats = [
        {"service_point": seat.service_point, "slot": 2 * number + side, "arm": seat.arm,
         "pair": seat.pair, "assigned": seat.construction}
        for number, pair in enumerate(trial.pairs) for side, seat in enumerate(pair)
    ]
    start, stop = pd.Timestamp(trial.started_on), pd.Timestamp(trial.stop)
    frame = stays.merge(pd.DataFrame(seats), on="service_point", validate="m:1")
    frame = frame[(frame["installed_on"] >= start) & (frame["installed_on"] <= stop)].copy()
    is_over = frame["removed_on"].notna() & (frame["removed_on"] <= stop)
    ended = frame["removed_on"].where(is_over, stop)
    frame["begin"] = (frame["installed_on"] - start).dt.days.astype(np.float64)
    frame["end"] = (ended - start).dt.days.astype(np.float64)
    frame["is_over"] = is_over
    frame["is_failure"] = is_over & (frame["kind"] != "suspended")
    frame["is_unknown_reason"] = is_over & frame["is_unknown_reason"]
    frame["is_as_assigned"] = frame["construction"].isin(["unknown"]) | (
        frame["construction"] == frame["assigned"])
    by = dict(zip(trial.constructions, (0, 1), strict=True))
    fitted = frame["construction"].where(frame["construction"] != "unknown", frame["assigned"])
    side = fitted.map(by)
    frame["treated_slot"] = np.where(side.notna(), 2 * (frame["slot"] // 2) + side.fillna(0),
                                     -1).astype(np.int64)
    return frame.sort_values(["slot", "installed_on", "life_id"]).reset_index(drop=True)


def _arrays(
    trial: Trial, frame: pd.DataFrame, before: KnownBefore, slot: pd.Series[int]
) -> Stays:
    rate = np.array([before.rate.get(place, 1.0) for place in frame["service_point"]], np.float64)
    begin, end, age = (frame[name].to_numpy(np.float64) for name in ("begin", "end", "carried"))
    return Stays(np.asarray(slot, np.int64), begin, end, age, rate,
                 frame["is_failure"].to_numpy(np.bool_))


def _mean_rate(trial: Trial, before: KnownBefore) -> float:
    """Return the mean multiplier of the hazard over the places of the pairs."""
    return float(np.mean([before.rate.get(seat.service_point, 1.0)
                          for pair in trial.pairs for seat in pair]))


def _prior(trial: Trial, before: KnownBefore, settings: Settings) -> Prior:
    """Return what was registered of the life ratio; no belief either way where nothing was."""
    ratio, spread = trial.row["expected_life_ratio"], trial.row["expected_life_ratio_log_sd"]
    is_known = ratio is not None and ratio > 0.0 and spread is not None and spread > 0.0
    return Prior(float(np.log(ratio)) if is_known else 0.0,
                 float(spread) if is_known else LIFE_SPREAD, before.law.shape,
                 settings.trial_within_pair_concentration)


def _is_settled(trial: Trial, before: KnownBefore, found: LifeStatistics) -> bool:
    """Tell whether a claim may speak of mean life: shapes agree, or enough time has passed."""
    rate = _mean_rate(trial, before) ** (-1.0 / before.law.shape)
    life = float(mean_life(before.law.shape, before.law.life_days)) * rate
    if trial.days(trial.stop) >= SETTLED_MEAN_LIVES * life:
        return True
    bounds = []
    for construction in trial.constructions:
        cell = cell_of(found, trial.application_class, construction)
        if cell < 0:
            return True
        bounds.append(found.shape_alone[1:, found.strata.n_strata + cell])
    (low, high), (other_low, other_high) = bounds
    return not (high < other_low or other_high < low)
