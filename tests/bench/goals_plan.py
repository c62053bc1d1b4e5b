"""Goals G12 to G16: forecasts, demand, flags, replacement ages, and all of a night's work."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from unittest.mock import patch

import numpy as np

from etl.decide.age_replacement import best_ages_of_kinds
from etl.decide.cost_rate import DAYS_A_YEAR
from etl.life import renewal, renewal_hazards
from etl.life.cell_law import CellLaw
from tests.bench import bench_fit, bench_lives, bench_pooling
from tests.bench.goal_rows import Goal
from tests.bench.plan_worlds import demand_covered, replacements
from tests.decide.test_age_replacement import LIFE, exact, law_of, one_best
from tests.life.test_renewal_grid import forecast, random_cell

N_CELLS, SOME_CELLS = 2_000, 200
HORIZONS = [0, 2, 11]


def forecasts(full: bool) -> Iterator[Goal]:
    """G12: a million places in 2,000 cells, and how fine the steps are.

    The goal was set for means at three spans and for sums of whole cells, all places alike: so
    are fleets forecast in which places do not differ. In a single fleet places may differ and lie
    in several groups; there each has 39 figures in each draw, which cost more to write down once
    than the goal allows in all.
    """
    n = 1_000_000 // N_CELLS
    repeats = 5 if full else 3
    like = bench_pooling.alike_speed(n, SOME_CELLS, repeats) * (N_CELLS / SOME_CELLS)
    yield Goal("forecast of 1e6 places alike, 100 draws, 12 months, EXP(1e6)", like, 400)
    each = bench_pooling.forecast_speed(n, repeats, is_own_rate=False) * N_CELLS
    yield Goal("  with all figures of each place in each draw", each)
    own = bench_pooling.forecast_speed(n, repeats) * N_CELLS
    yield Goal("  the same, each place its own rate in each draw", own)
    size = (n, 100, 3 * renewal.N_MONTHS + 3)
    source, kept = np.ones(size, np.float32), np.empty(size, np.float32)
    yield Goal("  its figures of all places and draws copied once", N_CELLS * bench_pooling.timed(
        lambda: np.copyto(kept, source), repeats))
    worst = 0.0
    for seed in range(12 if full else 6):
        cell, age, rate = random_cell(np.random.default_rng(seed))
        coarse = forecast(cell, age, rate).expected[..., HORIZONS].mean(axis=1)
        with patch.object(renewal_hazards, "STEPS_A_MONTH", (32,)):
            fine = forecast(cell, age, rate).expected[..., HORIZONS].mean(axis=1)
        worst = max(worst, float(np.abs(coarse / fine - 1.0).max()))
    yield Goal("  greatest relative error at 1, 3 and 12 months, finer steps", worst, 0.005)


def demand(full: bool) -> Iterator[Goal]:
    """G13: law of a summed demand, and what next year brings to a cell."""
    for n in (20, 200, 2000):
        mean, distance, ours, theirs = bench_pooling.demand_gap(n, 5.0)
        yield Goal(f"demand of {n} places, {mean:.1f} expected, total variation from exact",
                   distance, 0.002)
        yield Goal("  its 95 % point less the exact one", ours - theirs, 0, 0)
        mean, distance, ours, theirs = bench_pooling.demand_gap(n, 1.0)
        yield Goal(f"  lives a fifth as long, {mean:.1f} expected: total variation", distance)
        yield Goal("  its 95 % point less the exact one", ours - theirs, 0, 0)
    covered = np.concatenate([demand_covered(seed) for seed in range(20 if full else 3)])
    yield Goal(f"coverage of next year's failures of a cell, {covered.size} cells",
               float(covered.mean()), 0.93, 0.87)


def flags(full: bool) -> Iterator[Goal]:
    """G14: places flagged where none differ, and where some do."""
    seeds = range(5 if full else 2)
    for mean in (0.3, 1.0, 3.0, 10.0):
        found = np.array([bench_pooling.flagged(mean, 5 + seed) for seed in seeds])
        yield Goal(f"flags among 20,000 places alike, {mean:g} failures expected",
                   float(found[:, 0].mean()), 1)
        if mean >= 1.0:
            some, false = found[:, 1:].sum(axis=0)
            yield Goal(f"  false share of {some} flags, rates spread as gamma",
                       false / max(some, 1), 0.25)


def replacement_ages(full: bool) -> Iterator[Goal]:
    """G15: the age of least cost where the law is known, and where it is learnt."""
    worst = 0.0
    for shape in (0.8, 1.2, 2.0, 4.0, 8.0):
        for ratio in (1.5, 3.0, 10.0, 50.0):
            _, cost, never = exact([(shape, LIFE)], 1.0, ratio)
            found = one_best(law_of((shape, LIFE)), 1.0, ratio)
            saving = float(found.saving[0]) / DAYS_A_YEAR if np.isfinite(found.age[0]) else 0.0
            worst = max(worst, abs(saving - max(never - cost, 0.0)) / never)
    yield Goal("greatest error of the relative saving, law known", worst, 0.002)
    found = np.concatenate([replacements(seed) for seed in range(10 if full else 2)], axis=1)
    failures, said, paid, excess, alone = found
    gap = 0.0
    for low in np.arange(0.5, 1.0, 0.1):
        part = (said > low) & (said <= low + 0.1)
        if part.sum() >= 100:
            gap = max(gap, abs(float(said[part].mean() - paid[part].mean())))
    yield Goal("  said chance of a saving: greatest gap to the truth", gap, 0.05)
    few = (failures >= 1) & (failures <= 2)
    yield Goal("  excess cost at 1 to 2 failures, of the fit alone",
               float(excess[few].mean() / np.nanmean(alone[few])), 0.25)


def whole_night(full: bool) -> Iterator[Goal]:
    """G16: fits, curves, pooling, forecasts and replacement ages, each timed by itself."""
    took = bench_fit.speed(10_000, 100, 0.3, 0.0)
    unit = bench_fit.exp_pass(10**6)
    n, pooling, _ = bench_pooling.pooling_speed(50 if full else 10, 1)
    rng = np.random.default_rng(3)
    law = CellLaw(np.exp(rng.normal(0.7, 0.1, (100, 1))).astype(np.float32),
                  rng.normal(7.0, 0.2, (100, 1)).astype(np.float32))
    costs = np.ones(100), np.full(100, 8.0)
    parts = {
        "layout, fit and curves of a million lives": (
            took["layout"] + took["fit"] + took["curves"]) / unit,
        "pooling of 10,000 strata": pooling * 10_000 / n,
        "forecast of a million places alike": (
            bench_pooling.alike_speed(500, SOME_CELLS, 3) * (N_CELLS / SOME_CELLS)),
        "replacement ages of 10,000 strata": 100 * bench_pooling.timed(
            lambda: best_ages_of_kinds([law] * 100, *costs), 3),
    }
    for what, ratio in parts.items():
        yield Goal(f"  {what}, EXP(1e6)", ratio)
    yield Goal("sum of these, EXP(1e6)", sum(parts.values()), 3000)
    n_stays = 100_000 if full else 10_000
    run = bench_lives.paired_runs(n_stays, 1)[0]
    seconds = sum(run[step][0] for step in ("raw", "clean", "lives"))
    yield Goal(f"  beside them: logs of {n_stays:,} stays to lives, EXP(1e6)", seconds / unit)


PLAN_GOALS: dict[str, Callable[[bool], Iterator[Goal]]] = {
    "G12": forecasts, "G13": demand, "G14": flags, "G15": replacement_ages, "G16": whole_night,
}
