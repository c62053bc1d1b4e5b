"""Goals of teardown evidence: known truth in invented worlds, wrong ways failing beside them."""

from collections.abc import Iterator

import numpy as np

from etl.decide.evidence.findings import contributions
from tests.bench import bench_evidence as bench
from tests.bench.goal_rows import Goal
from tests.decide.test_evidence import FAIR, SMALL, STRONG, WEAK, case


def by_hand(full: bool) -> Iterator[Goal]:
    """Return how far the rule is from sums made on paper; what was not checked moves nothing."""
    # Present a1, a2 of one kind and b1 of another: the largest, half the second, for and against.
    paper = {("a1",): [STRONG, -FAIR, 0.0], ("a1", "a2"): [STRONG + FAIR / 2, -FAIR - WEAK / 2, 0],
             ("a1", "b1"): [STRONG - FAIR, STRONG - FAIR, 0.0]}
    off = [np.abs(contributions(SMALL, case(*present, table=SMALL)).sum(axis=1)[0] - wanted).max()
           for present, wanted in paper.items()]
    yield Goal("scores off those added up on paper", float(max(off)), 1e-12)
    yield Goal("score moved by what was not checked", float(np.abs(
        contributions(SMALL, case(table=SMALL))).max()), 0.0)


def learning(full: bool) -> Iterator[Goal]:
    """Return gains in log score over the packaged table, each hose judged by other hoses."""
    found = bench.learning(5 if full else 3)
    yield Goal("log score gained over the table by 100 checklists", float(found[100][1]),
               at_least=0.4)
    yield Goal("the same by 20, never worse", float(found[20][1]), at_least=-0.02)
    yield Goal("the same by 100, prior alone: must fall short", float(found[100][0]), at_most=0.4)


def habits(full: bool) -> Iterator[Goal]:
    """Return findings whose checking depends on the mechanism, and whether the guard fires."""
    for habit, (dependent, _, fires) in bench.habits(5 if full else 3).items():
        is_fair = habit == "checklist"
        yield Goal(f"findings checked by mechanism, {habit}", float(dependent),
                   *((0.05, None) if is_fair else (None, 0.10)))
        yield Goal(f"share of sites where the guard fires, {habit}", float(fires),
                   *((0.0, None) if is_fair else (None, 1.0)))


def cap(full: bool) -> Iterator[Goal]:
    """Return how often vibration called at 3 to 1 is right where every machine shakes."""
    found = bench.shaking(6 if full else 3)
    yield Goal("vibration called is right, all shakes, cap from 50 records",
               float(found[True, True][1]), at_least=0.80)
    yield Goal("the same without the cap: must fail", float(found[True, False][1]), at_most=0.70)


def asking(full: bool) -> Iterator[Goal]:
    """Return what ten well-chosen checks are worth, and what choosing costs."""
    hits, milliseconds = bench.asking(300 if full else 100)
    yield Goal("hits after 10 chosen checks less those after 20 at random",
               hits["chosen", 10] - hits["random", 20], at_least=-0.03)
    yield Goal("hits after 10 at random less those after 20: must fall short",
               hits["random", 10] - hits["random", 20], at_most=-0.03)
    yield Goal("one case, ms", milliseconds, at_most=10.0)


EVIDENCE_GOALS = {"T1": by_hand, "T2": learning, "T3": habits, "T4": cap, "T5": asking}
