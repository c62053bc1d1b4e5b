"""Goals G1 to G6: fits of many strata at once, and curves of exposure."""

from __future__ import annotations

import multiprocessing
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from etl.life.fit import fit_arranged, fit_strata
from tests.bench import bench_fit as bench
from tests.bench.goal_rows import Goal
from tests.life.strata_maker import make_lives
from tests.life.test_fit_agreement import of, slopes
from tests.life.test_fit_edges import CASES


def speed_of_fits(full: bool) -> Iterator[Goal]:
    """G1: a million lives, and the loops of four libraries."""
    took = bench.speed(10_000, 100, 0.0, 0.0)
    yield Goal("fit of 10,000 x 100 lives laid out, EXP(N)", took["fit"] / took["exp"], 12)
    yield Goal("  layout of those lives, EXP(N)", took["layout"] / took["exp"])
    loops = bench.library_loops(50 if full else 8)
    ours = took["fit"] / 10_000
    fastest = min(loops, key=lambda name: loops[name])
    yield Goal(f"  faster than the fastest library loop ({fastest}), times",
               loops[fastest] / ours, at_least=2000)
    yield Goal("  the same with the layout, times",
               loops[fastest] / (ours + took["layout"] / 10_000))


def memory(name: str) -> float:
    """Return a figure of this process from the Linux kernel, MB: VmRSS now, VmHWM the peak."""
    rows = dict(line.split(":", 1) for line in Path("/proc/self/status").read_text().splitlines())
    return float(rows[name].split()[0]) / 1024


def many_lives(n_strata: int) -> tuple[float, float, float]:
    """Return the fit in EXP(N), memory that holds the lives, and the peak after them, MB."""
    lives = make_lives(1, n_strata, 100, shapes=(0.8, 4.0))
    Path("/proc/self/clear_refs").write_text("5")  # the peak counts from here
    before = memory("VmRSS")
    strata = bench.arrange_strata(*lives)
    fit_arranged(strata)
    peak = memory("VmHWM")
    took = bench.seconds(lambda: fit_arranged(strata), 3)
    return took / bench.exp_pass(n_strata * 100), before, peak


def large_fit(full: bool) -> Iterator[Goal]:
    """G2: ten million lives (a million unless full), in a process of their own."""
    n_strata = 100_000 if full else 10_000
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        ratio, before, peak = pool.apply(many_lives, (n_strata,))
    yield Goal(f"fit of {n_strata:,} x 100 lives laid out, EXP(N)", ratio, 12)
    yield Goal("  memory of that process with the lives loaded, MB", before)
    yield Goal("  its peak while they are laid out and fitted, MB", peak)


def fit_accuracy(full: bool) -> Iterator[Goal]:
    """G3: distance from a direct search; with intervals, from the peak."""
    n = 300 if full else 100
    for name, late in (("suspended", 0.0), ("suspended, 30 % late", 0.3)):
        yield Goal(f"greatest log error of {n} strata, {name}",
                   float(bench.accuracy(late, n).max()), 1e-6)
    lives = make_lives(12, n, 40, 0.3, 0.5)
    fit, worst = fit_strata(*lives), 0.0
    for k in np.flatnonzero(fit.has_estimate):
        step = np.linalg.solve(fit.information[k], slopes(
            np.log(fit.shape[k]), np.log(fit.characteristic_life[k]), *of(lives, k)[:3]))
        worst = max(worst, float(np.abs(step).max()))
    yield Goal(f"  {n} strata with intervals: greatest step left to the peak", worst, 1e-6)


def edge_cases(full: bool) -> Iterator[Goal]:
    """G4: every edge case ends in its status, quietly."""
    right = 0
    for case in CASES:
        strata, status = case.values
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            fit = fit_arranged(strata)
        right += fit.status == [status] and bool(
            np.isfinite(fit.shape[0])) == (status in ("ok", "few_failures"))
    yield Goal(f"edge cases with their stated outcome, of {len(CASES)}", right, len(CASES),
               len(CASES))


def curves(full: bool) -> Iterator[Goal]:
    """G5: exposure curves."""
    for name, late, at_most in (("from new", 0.0, 25), ("40 % late", 0.4, 40)):
        took = bench.speed(10_000, 100, late, 0.0)
        yield Goal(f"curves of 10,000 x 100 lives, {name}, EXP(N)", took["curves"] / took["exp"],
                   at_most)
    yield Goal("  greatest error of log S0, shapes 0.2 to 20",
               float(bench.curve_errors(20.0).max()), 1e-7)
    each, summed = bench.curve_fits()
    yield Goal("  shape read from a curve, greatest log error", float(each.max()), 1e-6)
    yield Goal("  shape read from sums of 100 curves, greatest log error", float(summed.max()),
               1e-6)


def interval_fits(full: bool) -> Iterator[Goal]:
    """G6: 40 % of failures found at inspections, 30 % of lives entered late."""
    took = bench.speed(10_000, 100, 0.3, 0.4)
    yield Goal("fit of 10,000 x 100 lives with intervals, EXP(N)", took["fit"] / took["exp"], 100)


FIT_GOALS: dict[str, Callable[[bool], Iterator[Goal]]] = {
    "G1": speed_of_fits, "G2": large_fit, "G3": fit_accuracy, "G4": edge_cases, "G5": curves,
    "G6": interval_fits,
}
