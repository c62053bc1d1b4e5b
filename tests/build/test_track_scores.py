"""Scores by scope and method on simulated records: right forecasts pass, wrong ones fail."""

import numpy as np
import pandas as pd
import pytest

from etl.build.track.flags import flag_scores
from etl.build.track.scores import BY_GROUPS, BY_MONTHS, count_scores, units_of
from etl.decide.scores import count_crps, is_covered, mean_pinball, randomised_pit
from etl.life.count_forecasts import mixture_counts

MONTHS = pd.date_range("2024-01-31", periods=24, freq="ME")


def record(factor: float, n_groups: int = 30, seed: int = 1, horizon: int = 1) -> pd.DataFrame:
    """Return a record in which our forecasts are `factor` times the truth, rivals 1.5 times."""
    rng = np.random.default_rng(seed)
    truth = rng.gamma(4.0, 1.0, size=n_groups)
    frames = []
    observed = rng.poisson(np.tile(truth, (24, 1)))
    for method, times in (("forecast", factor), ("plug-in", 1.5), ("last year", 1.5),
                          ("constant rate", 1.5)):
        mean = np.tile(times * truth, (24, 1)).ravel()
        kept = mixture_counts(mean[:, None], mean[:, None])
        pit = randomised_pit(kept, observed.ravel(), rng.uniform(size=mean.size))
        frames.append(pd.DataFrame({
            "as_of": np.repeat(MONTHS, n_groups), "basis": "as known then", "scope": "line",
            "scope_name": np.tile([f"L{n:02d}" for n in range(n_groups)], 24),
            "horizon_months": horizon, "method": method, "mean": mean,
            "n_failed": observed.ravel(), "is_over": True, "pit": pit,
            "is_in_50": is_covered(pit, 0.5), "is_in_90": is_covered(pit, 0.9),
            "crps": count_crps(kept, observed.ravel()),
            "pinball": mean_pinball(kept, observed.ravel()),
            "cost_mean": 10.0 * mean, "cost_observed": 8.0 * observed.ravel(),
        }))
    return pd.concat(frames, ignore_index=True)


def score(frame, measure, method="forecast"):
    found = count_scores(frame, 0.9, 1)
    mine = found[(found["measure"] == measure) & (found["method"] == method)]
    assert len(mine) == 1
    return mine.iloc[0]


def test_right_forecasts_are_called_right():
    frame = record(1.0)
    for measure, right in (("coverage_50", 0.5), ("coverage_90", 0.9), ("bias", 0.0)):
        row = score(frame, measure)
        assert abs(row["value"] - right) < 0.05
        assert row["lower"] - 0.02 <= right <= row["upper"] + 0.02
    gain = score(frame, "gain", "last year")
    assert gain["lower"] > 0.1
    assert score(frame, "nearer", "last year")["lower"] > 0.5


@pytest.mark.parametrize(("factor", "bias"), [(1.5, 0.5), (0.6, -0.4)])
def test_wrong_forecasts_are_called_wrong(factor, bias):
    frame = record(factor)
    row = score(frame, "bias")
    assert row["value"] == pytest.approx(bias, abs=0.06)
    assert not row["lower"] <= 0.0 <= row["upper"]
    assert score(frame, "coverage_90")["upper"] < 0.9


def test_a_rival_like_ours_gains_and_loses_nothing():
    frame = record(1.5)
    assert score(frame, "gain", "last year")["value"] == 0.0
    assert score(frame, "nearer", "last year")["value"] == 0.5


def test_cost_is_scored_like_counts():
    row = score(record(1.0), "cost_bias")
    assert row["value"] == pytest.approx(0.25, abs=0.05)


def test_overlapping_spans_are_never_drawn_month_by_month():
    origin = np.repeat(MONTHS, 20)
    group = np.tile(np.arange(20), 24)
    assert units_of(origin, group, 1, 0.9, 1).by == BY_MONTHS
    assert units_of(origin, group, 3, 0.9, 1).block == 3
    assert units_of(origin, group, 12, 0.9, 1).by == BY_GROUPS
    alone = units_of(MONTHS, np.zeros(24), 12, 0.9, 1)
    assert alone.by == ""
    value, lower, upper = alone.ratio(np.ones(24), np.full(24, 2.0))
    assert value == 0.5
    assert np.isnan([lower, upper]).all()


def flagged(true_ratio: float, n: int = 80, seed: int = 3) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    like = rng.uniform(0.5, 2.0, size=n)
    return pd.DataFrame({
        "as_of": pd.Timestamp("2024-01-31"), "basis": "as known then",
        "service_point": [f"P{i}" for i in range(n)], "relative_rate": 2.0,
        "days_since": 700, "failed_since": rng.poisson(true_ratio * like),
        "like_failed_since": like, "n_like": 50})


def test_flags_are_right_where_places_do_fail_faster_and_wrong_where_they_do_not():
    right = flag_scores(flagged(2.0), 0.9, 1).set_index("measure")
    assert right.loc["flag_ratio", "lower"] < 2.0 < right.loc["flag_ratio", "upper"]
    assert right.loc["flag_ratio", "lower"] > 1.3
    wrong = flag_scores(flagged(1.0), 0.9, 1).set_index("measure")
    assert wrong.loc["flag_ratio", "upper"] < 1.5
    assert wrong.loc["flag_ratio", "expected"] == pytest.approx(2.0)


def test_young_flags_are_not_judged():
    assert flag_scores(flagged(2.0).assign(days_since=89), 0.9, 1).empty
