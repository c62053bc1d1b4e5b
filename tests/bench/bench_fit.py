"""Speed and accuracy of the fits: ``python -m tests.bench.bench_fit [--large]``.

EXP(N) is the processor time of one ``np.exp(x, out=o)`` over as many float64 as there are lives,
measured in the same run: the median of nine. On a processor with 512-bit vectors, numpy's exp is
nearly as cheap as a multiplication, which makes every ratio several times larger than on one
without; both units are printed (the second from a child process with those instructions switched
off in numpy).
Loops over the libraries are timed on 50 strata and extrapolated.
"""

import argparse
import os
import platform
import statistics
import subprocess
import sys
import time
import warnings

import numpy as np
import scipy
from scipy import optimize, stats

from etl.life.bounds import likelihood_ratio_bounds
from etl.life.curves import evaluate, exposure_curves, merge
from etl.life.fit import fit_arranged, fit_strata
from etl.life.strata import arrange_strata
from tests.life.strata_maker import make_lives

N_TIMED = 50
WIDE = "X86_V4 AVX512_ICL AVX512_SPR"


def seconds(call, repeats=5):
    """Median processor time of a call, after one call that is not counted."""
    call()
    times = []
    for _ in range(repeats):
        start = time.process_time()
        call()
        times.append(time.process_time() - start)
    return statistics.median(times)


def exp_pass(n):
    x, out = np.random.default_rng(0).random(n), np.empty(n)
    return seconds(lambda: np.exp(x, out=out), 9)


def speed(n_strata, n_lives, late, interval):
    """Return seconds of laying out, fitting, both, curves, and one EXP pass."""
    lives = make_lives(1, n_strata, n_lives, late, interval, (0.8, 4.0))
    strata = arrange_strata(*lives)
    stratum, entry, low, _, count, n = lives
    return {
        "layout": seconds(lambda: arrange_strata(*lives), 3),
        "fit": seconds(lambda: fit_arranged(strata), 5 if not interval else 3),
        "curves": seconds(lambda: exposure_curves(stratum, low, entry, count, n), 3),
        "exp": exp_pass(n_strata * n_lives),
        "ok": float(fit_arranged(strata).has_estimate.mean()),
    }


def print_speed(title, n_strata, n_lives, late, interval, goals):
    s = speed(n_strata, n_lives, late, interval)
    print(f"{title}: {n_strata:,} strata x {n_lives} lives, {s['ok']:.2%} with an estimate; "
          f"EXP(N) = {1e3 * s['exp']:.2f} ms")
    for part in ("layout", "fit", "curves"):
        goal = f"   goal <= {goals[part]}" if part in goals else ""
        print(f"  {part:7s} {s[part] / s['exp']:8.1f} EXP(N)   {1e3 * s[part]:8.1f} ms{goal}")
    return s


def library_loops(n_timed=N_TIMED):
    """Seconds a stratum of each library's loop, on the same 50 strata of 100 lives."""
    import surpyval
    from lifelines import WeibullFitter
    from reliability.Fitters import Fit_Weibull_2P
    stratum, _, low, high, _, _ = make_lives(1, 10_000, 100, 0.0, 0.0, (0.8, 4.0))
    parts = [(low[stratum == k], high[stratum == k]) for k in range(n_timed)]

    def by_reliability(age, top):
        failed = np.isfinite(top)
        Fit_Weibull_2P(failures=age[failed], right_censored=age[~failed],
                       show_probability_plot=False, print_results=False)

    def by_scipy(age, top):
        failed = np.isfinite(top)
        stats.weibull_min.fit(stats.CensoredData(age[failed], right=age[~failed]), 1.5, floc=0,
                              scale=age.mean())

    calls = {
        "surpyval": lambda age, top: surpyval.Weibull.fit(age, c=(~np.isfinite(top)).astype(int)),
        "reliability": by_reliability,
        "scipy": by_scipy,
        "lifelines": lambda age, top: WeibullFitter().fit(age, np.isfinite(top)),
    }
    result = {}
    for name, call in calls.items():
        start = time.process_time()
        for part in parts:
            call(*part)
        result[name] = (time.process_time() - start) / n_timed
    return result


def direct(entry, low, high):
    """Log shape and life by a bracketed root of the profile score."""
    failed, scale = np.isfinite(high), low.max()
    x, xe = np.log(low / scale), np.log(entry[entry > 0] / scale)

    def parts(b):
        return (np.exp(b * x).sum() - np.exp(b * xe).sum(),
                (x * np.exp(b * x)).sum() - (xe * np.exp(b * xe)).sum())

    def score(u):
        s0, s1 = parts(np.exp(u))
        return np.exp(-u) + x[failed].mean() - s1 / s0

    u = optimize.brentq(score, np.log(0.05), np.log(60.0), xtol=1e-14)
    return u, np.log(scale) + np.log(parts(np.exp(u))[0] / failed.sum()) / np.exp(u)


def accuracy(late, n_strata=300):
    """Return the greatest differences of log shape and log life from direct search."""
    lives = make_lives(2, n_strata, 100, late)
    fit = fit_strata(*lives)
    worst = np.zeros(2)
    for k in range(n_strata):
        rows = lives[0] == k
        u, m = direct(*(column[rows] for column in lives[1:4]))
        worst = np.maximum(worst, np.abs([np.log(fit.shape[k]) - u,
                                          np.log(fit.characteristic_life[k]) - m]))
    return worst


def print_accuracy():
    for title, late in (("suspended", 0.0), ("suspended and late", 0.3)):
        worst = accuracy(late)
        print(f"G3 {title}: greatest difference from direct search, 300 strata: log shape "
              f"{worst[0]:.1e}, log life {worst[1]:.1e}   goal <= 1e-6")
    print("G3 intervals: checked in tests/life/test_fit_agreement.py (<= 1e-7)")


def curve_errors(top, n=10_000):
    """Return errors of log S0 at a shape of its own for each cell, 0.2 to ``top``."""
    stratum, entry, low, _, count, n = make_lives(3, n, 100)
    curves = exposure_curves(stratum, low, entry, count, n)
    u = np.random.default_rng(4).uniform(np.log(0.2), np.log(top), n)
    y = np.log(low) - curves.centre[stratum]
    exact = np.log(np.bincount(stratum, np.exp(np.exp(u)[stratum] * y), n))
    return np.abs(evaluate(curves, np.arange(n), u)[0] - exact)


def steps_left(curves, stratum, low, high, shape):
    """Return how far the shape read from each curve is from the exact one, in log shape."""
    n, failed = curves.n_cells, np.isfinite(high)
    y = np.log(low) - curves.centre[stratum]
    mean = np.bincount(stratum, np.where(failed, y, 0.0), n) / np.bincount(stratum, failed, n)
    _, slope, curvature = evaluate(curves, np.arange(n), np.log(shape))
    return np.abs((1.0 + shape * mean - slope) / (curvature - shape * mean))


def curve_fits(n=10_000):
    """Return such distances from exact fits: each cell's, and those of 100 sums of curves."""
    lives = make_lives(3, n, 100)
    stratum, entry, low, high, count, n = lives
    curves = exposure_curves(stratum, low, entry, count, n)
    group = np.arange(n) % 100
    fits = fit_strata(*lives), fit_strata(group[stratum], entry, low, high, count, 100)
    return (steps_left(curves, stratum, low, high, fits[0].shape),
            steps_left(merge(curves, group, 100), group[stratum], low, high, fits[1].shape))


def print_curve_accuracy():
    for top in (8.0, 20.0):
        error = curve_errors(top)
        print(f"G5 error of log S0, shapes 0.2 to {top:g}: median {np.median(error):.1e}, "
              f"greatest {error.max():.1e}   goal <= 1e-7")
    each, summed = curve_fits()
    print(f"G5 shape from the curve against the exact one: {each.max():.1e}, from sums of 100 "
          f"curves {summed.max():.1e}   goal <= 1e-6")
    stratum, entry, low, _, count, n = make_lives(3, 10_000, 100)
    curves = exposure_curves(stratum, low, entry, count, n)
    group = np.arange(n) % 100
    merged = seconds(lambda: merge(curves, group, 100))
    again = seconds(lambda: exposure_curves(group[stratum], low, entry, count, 100), 3)
    print(f"G5 100 groups of 100 cells: sum of curves {1e3 * merged:.1f} ms, from the lives "
          f"{1e3 * again:.1f} ms ({again / merged:.0f} x)")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--large", action="store_true", help="also ten million lives (G2)")
    parser.add_argument("--narrow", action="store_true", help=argparse.SUPPRESS)
    options = parser.parse_args()
    goals = {"fit": 12, "curves": 25}
    if options.narrow:
        print("-- the same without 512-bit vectors in numpy --")
        print_speed("G1", 10_000, 100, 0.0, 0.0, goals)
        print_speed("G5 late", 10_000, 100, 0.3, 0.0, {"curves": 40})
        print_speed("G6", 10_000, 100, 0.3, 0.4, {"fit": 100})
        return
    print(f"{platform.processor() or platform.machine()}, python {platform.python_version()}, "
          f"numpy {np.__version__}, scipy {scipy.__version__}, one thread")
    first = print_speed("G1", 10_000, 100, 0.0, 0.0, goals)
    print_speed("G5 late", 10_000, 100, 0.3, 0.0, {"curves": 40})
    print_speed("G6", 10_000, 100, 0.3, 0.4, {"fit": 100})
    if options.large:
        print_speed("G2", 100_000, 100, 0.0, 0.0, goals)
    for n_strata, n_lives in ((100, 100), (1_000, 100), (10_000, 10), (100_000, 10)):
        print_speed("growth", n_strata, n_lives, 0.0, 0.0, {})
    strata = arrange_strata(*make_lives(1, 2_000, 100, 0.3, 0.4))
    fit = fit_arranged(strata)
    print(f"likelihood-ratio bounds, 2,000 strata with intervals and late entries: "
          f"{seconds(lambda: likelihood_ratio_bounds(strata, fit), 1):.2f} s")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        loops = library_loops()
    ours = (first["fit"] + first["layout"]) / 10_000
    for name, each in sorted(loops.items(), key=lambda item: item[1]):
        print(f"G1 {name}: {1e3 * each:.1f} ms a stratum, {each / ours:,.0f} x ours (layout and "
              f"fit, {1e6 * ours:.1f} us), {each * 10_000 / first['fit']:,.0f} x the fit alone")
    print("   goal: >= 2,000 x the fastest (50 strata timed, extrapolated)")
    print_accuracy()
    print_curve_accuracy()
    subprocess.run([sys.executable, "-m", "tests.bench.bench_fit", "--narrow"], check=True,
                   env={**os.environ, "NPY_DISABLE_CPU_FEATURES": WIDE})


if __name__ == "__main__":
    os.environ.setdefault("MPLBACKEND", "Agg")
    main()
