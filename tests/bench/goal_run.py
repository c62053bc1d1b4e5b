"""Goals printed with what this machine reaches now."""

from __future__ import annotations

import argparse
import os
import platform
import sys
import time
import warnings
from collections.abc import Callable, Iterator, Mapping

import numpy as np
import scipy

from etl import threads
from tests.bench.bench_fit import WIDE, exp_pass
from tests.bench.goal_rows import Goal, keep


def show(name: str, goal: Goal) -> None:
    """Print one row of the table."""
    print(f"{name:4} {goal.what:66} {goal.figure:>11.4g}  {goal.wanted:16} {goal.word}", flush=True)


def start_anew(module: str, **more: str) -> None:
    """Start the module again, once, with one thread: libraries read that as they are imported."""
    if "BENCH_ANEW" not in os.environ:
        os.environ.update({**dict.fromkeys(threads.NAMES, "1"), "BENCH_ANEW": "1", **more})
        os.environ.setdefault("MPLBACKEND", "Agg")
        os.execv(sys.executable, [sys.executable, "-m", module, *sys.argv[1:]])


def run(goals: Mapping[str, Callable[[bool], Iterator[Goal]]], module: str) -> None:
    """Print the rows asked for on the command line.

    Parameters
    ----------
    goals : mapping
        Name to what yields its rows, at full size or not.
    module : str
        The one that is run, to start it again where the number of threads has to be set.
    """
    parser = argparse.ArgumentParser(description="Goals with the present figures.")
    parser.add_argument("--only", nargs="+", metavar="GOAL", choices=list(goals), default=[])
    parser.add_argument("--full", action="store_true", help="worlds of full size")
    parser.add_argument("--narrow", action="store_true", help="no 512-bit vectors in numpy")
    parser.add_argument("--write", action="store_true", help="keep the figures for the guide")
    options = parser.parse_args()
    start_anew(module, **({"NPY_DISABLE_CPU_FEATURES": WIDE} if options.narrow else {}))
    print(f"{platform.processor() or platform.machine()}, python {platform.python_version()}, "
          f"numpy {np.__version__}, scipy {scipy.__version__}, one thread, "
          f"EXP(1e6) = {1e3 * exp_pass(10**6):.2f} ms{', narrow' if options.narrow else ''}")
    for name in options.only or goals:
        start, found = time.process_time(), []
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of the libraries compared with
            for goal in goals[name](options.full):
                show(name, goal)
                found.append(goal)
        if options.write:
            keep(name, found, ("full" if options.full else "quick")
                 + (", narrow" if options.narrow else ""))
        print(f"     ({time.process_time() - start:.0f} s)", flush=True)
