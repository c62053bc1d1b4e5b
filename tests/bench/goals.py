"""The goals of the life statistics in one table, with what this machine reaches now.

Run: ``python -m tests.bench.goals [--only G7 ...] [--full] [--narrow]``. EXP(N) is the processor
time of ``np.exp`` over N float64 in the same run, one thread; accuracies and coverages come from
invented worlds whose truth is known. The goals of speed were set where numpy has no 512-bit
vectors; there its exp takes several times longer, so that ratios are several times smaller.
``--narrow`` switches those instructions off in numpy and so gives the unit the goals were set in.
Without ``--full`` the worlds are fewer and smaller, and shares and coverages carry a chance error
of a few hundredths. Nothing fails when a goal is missed: the table says so.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
import time
import warnings

import numpy as np
import scipy

from tests.bench.bench_fit import WIDE, exp_pass
from tests.bench.goal_rows import Goal
from tests.bench.goals_fit import FIT_GOALS
from tests.bench.goals_plan import PLAN_GOALS
from tests.bench.goals_pooled import POOLED_GOALS
from tests.bench.goals_vibration import VIBRATION_GOALS

ONE_THREAD = {name: "1" for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")}
GOALS = {**FIT_GOALS, **POOLED_GOALS, **PLAN_GOALS, **VIBRATION_GOALS}


def show(name: str, goal: Goal) -> None:
    """Print one row of the table."""
    word = {None: "-", True: "met", False: "NOT MET"}[goal.is_met]
    print(f"{name:4} {goal.what:66} {goal.figure:>11.4g}  {goal.wanted:16} {word}", flush=True)


def main() -> None:
    """Print the rows asked for."""
    parser = argparse.ArgumentParser(description="Goals of the life statistics.")
    parser.add_argument("--only", nargs="+", metavar="GOAL", choices=list(GOALS), default=[])
    parser.add_argument("--full", action="store_true", help="worlds of full size")
    parser.add_argument("--narrow", action="store_true", help="no 512-bit vectors in numpy")
    options = parser.parse_args()
    wanted = {**ONE_THREAD, **({"NPY_DISABLE_CPU_FEATURES": WIDE} if options.narrow else {})}
    if any(os.environ.get(name) != value for name, value in wanted.items()):
        os.environ.update(wanted)  # libraries read these as they are first imported: start again
        os.environ.setdefault("MPLBACKEND", "Agg")
        os.execv(sys.executable, [sys.executable, "-m", "tests.bench.goals", *sys.argv[1:]])
    print(f"{platform.processor() or platform.machine()}, python {platform.python_version()}, "
          f"numpy {np.__version__}, scipy {scipy.__version__}, one thread, "
          f"EXP(1e6) = {1e3 * exp_pass(10**6):.2f} ms{', narrow' if options.narrow else ''}")
    for name in options.only or GOALS:
        start = time.process_time()
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of the libraries compared with
            for goal in GOALS[name](options.full):
                show(name, goal)
        print(f"     ({time.process_time() - start:.0f} s)", flush=True)


if __name__ == "__main__":
    main()
