"""The goals of the life statistics in one table, with what this machine reaches now.

Run: ``python -m tests.bench.goals [--only G7 ...] [--full] [--narrow] [--write]``. EXP(N) is the
processor time of ``np.exp`` over N float64 in the same run, one thread; accuracies and coverages
come from invented worlds whose truth is known. The goals of speed were set where numpy has no
512-bit vectors; there its exp takes several times longer, so that ratios are several times smaller.
``--narrow`` switches those instructions off in numpy and so gives the unit the goals were set in.
Without ``--full`` the worlds are fewer and smaller, and shares and coverages carry a chance error
of a few hundredths. ``--write`` keeps the figures for the table of the guide. Nothing fails when a
goal is missed: the table says so.
"""

from __future__ import annotations

from tests.bench.goal_run import run
from tests.bench.goal_run import show as show
from tests.bench.goals_fit import FIT_GOALS
from tests.bench.goals_plan import PLAN_GOALS
from tests.bench.goals_pooled import POOLED_GOALS
from tests.bench.goals_vibration import VIBRATION_GOALS

GOALS = {**FIT_GOALS, **POOLED_GOALS, **PLAN_GOALS, **VIBRATION_GOALS}


if __name__ == "__main__":
    run(GOALS, "tests.bench.goals")
