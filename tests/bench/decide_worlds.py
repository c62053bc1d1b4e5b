"""Worlds for goals of spares and of the track record: budgets, planned dates, added curves."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from etl.build.planned_demand import STEPS_OF_DAYS, ReplacedLaw
from etl.decide.spares.need import lead_time_slices
from etl.decide.spares.stock import budget_quantiles, demand_over
from etl.life.cell_law import CellLaw
from etl.life.curves import Curves, exposure_curves, merge
from etl.life.renewal import BLOCK, DAYS_A_MONTH, forecast_places
from tests.bench.plan_worlds import failures_within_a_year, fleet
from tests.build.test_track_record import MONTHS, build, fill, kept
from tests.build.track_fleet import new_store
from tests.decide.test_spares_service import LEAD, LIFE, N_FUTURES, REVIEW, SHAPE, SPREAD, advised

Floats = NDArray[np.float64]

BUDGETS = 4
"""Budgets of one fleet, of cells that no other budget holds."""
NEVER = 1e9


def budgets_kept(seed: int) -> Floats:
    """Tell which next years' costs of one fleet lie below P50 and P90, shape (`BUDGETS`, 2)."""
    world, draws = fleet(seed)
    rng = np.random.default_rng((12, seed))
    out = np.zeros((BUDGETS, 2))
    for row, cells in enumerate(np.array_split(rng.permutation(world.n_cells), BUDGETS)):
        (mean, variance), spent = np.zeros((2, draws.log_shape.shape[0])), 0.0
        for cell in cells:
            age = world.age[(world.cell == cell) & (world.cause < 0)][:25]
            mine = np.flatnonzero(world.stratum_cell == cell)
            if not age.size:
                continue
            price = float(rng.lognormal(5.0, 0.7))
            law = CellLaw(np.exp(draws.log_shape[:, mine]), draws.log_life[:, mine])
            ones = np.ones((age.size, mean.size), np.float32)
            for block in forecast_places(law, np.arange(age.size), age, ones):
                mean += price * block.expected[..., -1].sum(axis=0)
                variance += price**2 * block.variance[..., -1].sum(axis=0)
            spent += price * failures_within_a_year(
                rng, age, np.exp(world.log_shape[mine]), np.exp(world.log_life[mine]))
        out[row] = spent <= np.array(budget_quantiles(mean, variance, (0.5, 0.9)))
    return out


def planned_service(*, is_known: bool) -> float:
    """Return the least service achieved less stated where a third of the places have a date."""
    rng = np.random.default_rng(14)
    days, weights = lead_time_slices(LEAD, SPREAD)
    worst = 1.0
    for n in (6, 24, 120):
        ages, due = rng.uniform(0.0, 1200.0, n), np.full(n, NEVER)
        due[::3] = DAYS_A_MONTH * rng.integers(1, 7, due[::3].size)
        mean, variance = _with_dates(ages, due) if is_known else advised(ages)
        demand = _demand(ages, due, rng)
        law = demand_over(mean, variance, days + REVIEW, weights)
        for level in (0.90, 0.95, 0.99):
            worst = min(worst, float(np.mean(demand <= law.level(level))) - level)
    return worst


def _with_dates(ages: Floats, due: Floats) -> tuple[Floats, Floats]:
    """Return mean and variance of the demand, dates known, one draw."""
    one = np.full((1, 1), SHAPE, np.float32), np.full((1, 1), np.log(LIFE), np.float32)
    mean, variance = np.zeros((1, 12)), np.zeros((1, 12))
    for at in range(0, ages.size, BLOCK):
        age = ages[at:at + BLOCK]
        law = ReplacedLaw(*one, age + due[at:at + BLOCK], NEVER)
        for block in forecast_places(law, np.arange(age.size), age,
                                     np.ones((age.size, 1), np.float32),
                                     least_steps=STEPS_OF_DAYS):
            mean += block.expected.sum(axis=0)
            variance += block.variance.sum(axis=0)
    return mean, variance


def _demand(ages: Floats, due: Floats, rng: np.random.Generator) -> NDArray[np.int64]:
    """Return the demand within review plus lead time in simulated futures."""
    span = REVIEW + rng.gamma((LEAD / SPREAD) ** 2, SPREAD**2 / LEAD, N_FUTURES)
    demand = np.zeros(N_FUTURES, int)
    for age, day in zip(ages, due, strict=True):
        passed = (age / LIFE) ** SHAPE + rng.exponential(size=N_FUTURES)
        clock = np.minimum(LIFE * passed ** (1.0 / SHAPE) - age, day)
        while (running := clock <= span).any():
            demand += running
            clock = np.where(running, clock + LIFE * rng.weibull(SHAPE, N_FUTURES), np.inf)
    return demand


def forecasts_rewritten(folder: Path) -> tuple[int, int]:
    """Return how many kept forecasts there were, and how many a later month's logs changed."""
    store = new_store(folder / "store")
    fill(store, folder, MONTHS[:3])
    build(store, MONTHS[2])
    before = {table: kept(store, table) for table in ("counts", "places")}
    (folder / "later").mkdir()
    fill(store, folder / "later", MONTHS[:4])
    build(store, MONTHS[3])
    changed = [name for table, files in before.items() for name, held in files.items()
               if kept(store, table).get(name) not in (None, held)]
    return sum(len(files) for files in before.values()), len(changed)


def added_curves(n: int, open_share: float, n_cells: int = 300) -> tuple[float, float]:
    """Return the cost of adding months to curves over that of rescans, and the greatest gap.

    Lives closed before are kept as curves; each month adds those closed in it and counts the
    open ones anew. One life in so many is open at a month end.
    """
    rng = np.random.default_rng(20)
    months, span = 24, 240.0
    closed_at = np.sort(rng.uniform(0.0, (span + months) / (1.0 - open_share), n))
    age = 1.0 + 900.0 * rng.weibull(2.0, n)
    cell, entry, one = rng.integers(0, n_cells, n), np.zeros(n), np.ones(n)
    ends = span + np.arange(1, months + 1)
    took, held, gap = {"rescan": 0.0, "added": 0.0}, None, 0.0
    for at, end in enumerate(ends):
        done = int(np.searchsorted(closed_at, end))
        running = slice(done, done + int(open_share * done / (1.0 - open_share)))
        both = np.r_[0:done, running]
        rows = [values[both] for values in (cell, age, entry, one)]
        start = time.process_time()
        whole = exposure_curves(*rows, n_cells)
        took["rescan"] += time.process_time() - start if at else 0.0
        start = time.process_time()
        since = int(np.searchsorted(closed_at, ends[at - 1])) if at else 0
        new = [exposure_curves(cell[part], age[part], entry[part], one[part], n_cells)
               for part in (slice(since, done), running)]
        held = _sum([new[0]] if held is None else [held, new[0]], n_cells)
        added = _sum([held, new[1]], n_cells)
        took["added"] += time.process_time() - start if at else 0.0
        gap = max(gap, float(np.abs(added.s0 / whole.s0 - 1.0).max()))
    return took["added"] / took["rescan"], gap


def _sum(parts: list[Curves], n_cells: int) -> Curves:
    """Add up the curves of the same cells."""
    names = [field.name for field in fields(Curves) if field.name != "log_shape_nodes"]
    whole = Curves(parts[0].log_shape_nodes, *(
        np.concatenate([getattr(part, name) for part in parts]) for name in names))
    return merge(whole, np.tile(np.arange(n_cells), len(parts)), n_cells)


def kept_budgets(seeds: range) -> Iterator[tuple[str, float, int]]:
    """Yield the name of each quantile, the share of budgets within it, and their number."""
    found = np.concatenate([budgets_kept(seed) for seed in seeds])
    for name, share in zip(("P50", "P90"), found.mean(axis=0), strict=True):
        yield name, float(share), len(found)
