"""Goals G7 to G11: what pooling is worth on invented fleets, and what it costs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache

from tests.bench import bench_pooling as bench
from tests.bench.goal_rows import Goal

RATIOS = {"1": 0.50, "2": 0.60, "3-4": 0.75, "5-9": 0.80, "10-29": 0.85, "30+": 0.95}


def n_sets(full: bool) -> int:
    """Return the fleets of 840 strata in a study."""
    return 40 if full else 6


@cache
def fleets(full: bool, masked: str = "known") -> bench.Study:
    """Return the study of the usual fleets, shared by several goals."""
    return bench.study(n_sets(full), 1, masked)


def error_ratios(full: bool) -> Iterator[Goal]:
    """G7: error of log B10 against the fit alone, by failures."""
    found = fleets(full)
    for name, part in found.by_failures():
        error = bench.rmse(found.pooled[part])
        if name == "0":
            yield Goal("error of log B10 with no failure, of a bound at a given shape",
                       error / bench.rmse(found.weibayes[part]), 0.55)
        else:
            yield Goal(f"error of log B10, {name} failures, of the fit alone",
                       error / bench.rmse(found.alone[part]), RATIOS[name])


def coverages(full: bool) -> Iterator[Goal]:
    """G8: how often the 90 % bounds of B10 hold the truth, by failures."""
    found = fleets(full)
    for name, part in found.by_failures():
        yield Goal(f"coverage of log B10, {name} failures ({part.sum()} strata)",
                   float(found.is_covered[part].mean()), 0.93, 0.87)
    harder = {
        "lives three times as long": bench.study(n_sets(full), 2, life_factor=3.0),
        "thirty strata": bench.study(4 * n_sets(full), 3, n_classes=3, n_constructions=5,
                                     n_mechanisms=2),
    }
    for name, hard in harder.items():
        least = min(float(hard.is_covered[part].mean()) for _, part in hard.by_failures()
                    if part.sum() >= 100)
        yield Goal(f"  least coverage of a group, {name}", least, at_least=0.86)
        yield Goal(f"  coverage of all strata, {name}", float(hard.is_covered.mean()))


def pooling_speed(full: bool) -> Iterator[Goal]:
    """G9: cost of pooling 10,000 strata and worth of its draws."""
    n, ratio, size = bench.pooling_speed(50 if full else 10, 3 if full else 1)
    scale = 10_000 / n
    yield Goal(f"pooling of {n:,} strata{'' if full else ', scaled to 10,000'}, EXP(1e6)",
               ratio * scale, 1500)
    yield Goal("  median effective size of 200 draws", size, at_least=150)


def unknown_mechanisms(full: bool) -> Iterator[Goal]:
    """G10: 30 % of failures without a mechanism, rightly and wrongly treated."""
    known, shared, wrong = (fleets(full, masked) for masked in ("known", "shared", "suspended"))
    worst, least = 0.0, 1.0
    for _, part in known.by_failures():
        worst = max(worst, bench.rmse(shared.pooled[part]) / bench.rmse(known.pooled[part]))
    for _, part in shared.by_failures():
        least = min(least, float(shared.is_covered[part].mean()))
    yield Goal("error of log B10 with 30 % unknown, of all known", worst, 1.15)
    yield Goal("  least coverage of a group", least, at_least=0.87)
    yield Goal("  coverage if unknown were suspensions (must be low)",
               float(wrong.is_covered[wrong.failures > 0.0].mean()), 0.80)


def ranks(full: bool) -> Iterator[Goal]:
    """G11: ranks of strata and the chance of being among the worst twenty."""
    found = fleets(full)
    yield Goal("coverage of 90 % rank ranges", float(found.rank_covered.mean()), 0.93, 0.86)
    gap = max(abs(said - true) for said, true in found.worst_calibration())
    yield Goal("  chance of being among the worst 20: greatest gap to the truth", gap, 0.06)


POOLED_GOALS: dict[str, Callable[[bool], Iterator[Goal]]] = {
    "G7": error_ratios, "G8": coverages, "G9": pooling_speed, "G10": unknown_mechanisms,
    "G11": ranks,
}
