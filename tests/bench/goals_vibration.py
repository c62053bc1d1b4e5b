"""Goals of life under vibration and of teardown evidence: truth recovered, wrong ways failing.

Run: ``python -m tests.bench.goals_vibration [--full] [--narrow] [--only V4 ...]``; rows as in
``tests.bench.goals``.
"""

import time
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pandas as pd
from lifelines import WeibullAFTFitter

from etl.life.vibration.draws import draw_vibration
from etl.life.vibration.fit import Fitter, fit_vibration
from etl.life.vibration.lives import stands_apart
from etl.life.vibration.marginal import Marginal
from etl.life.vibration.nodes import Nodes
from etl.life.vibration.plain import plain_fit
from etl.life.vibration.sampler import sample_vibration
from tests.bench.bench_fit import exp_pass, seconds
from tests.bench.goal_rows import Goal
from tests.bench.goal_run import run
from tests.bench.goals_evidence import EVIDENCE_GOALS
from tests.bench.vibration_study import (
    AT,
    OFF,
    ON,
    alone_exponents,
    believing,
    inside,
    latent,
    map_errors,
    outlasting_chances,
    terms_for,
)
from tests.bench.vibration_world import World, make, plain_world

NEW = World()
OLD = World(history_years=8.0)
WHOLE = replace(OLD, dated=1.0)
FEW = World(measured=0.2)


def speed(full: bool) -> Iterator[Goal]:
    """Return processor times at a large fleet, velocities unknown."""
    data = make(World(n_places=20_000 if full else 4_000, life=4000.0), 1)[0]
    unit = exp_pass(data.place.size)
    terms = terms_for(data)
    fitter = Fitter(data, terms, None)
    fitter.relocate()
    whole = fitter.marginal
    one = Nodes(*(values[:, :1] for values in (
        whole.nodes.velocity, whole.nodes.frequency, whole.nodes.log_weight)))
    given = Marginal(terms, data, whole.pairs, one)
    yield Goal("likelihood and gradient, velocities given, EXP(N)", seconds(
        lambda: given.value_and_gradient(fitter.theta)) / unit, at_most=15)
    yield Goal("  the same, velocities unknown: 24 points a place", seconds(
        lambda: whole.value_and_gradient(fitter.theta)) / unit)
    start = time.process_time()
    fit = fit_vibration(data, terms)
    taken = time.process_time() - start
    yield Goal(f"fit of {data.place.size:,} lives, 40 constructions, EXP(N)", taken / unit,
               at_most=12_000)
    yield Goal("the same, seconds", taken)
    start = time.process_time()
    draw_vibration(fit, 200, 1)
    yield Goal("200 joint draws by the parabola, EXP(N)", (time.process_time() - start) / unit,
               at_most=35_000)
    start = time.process_time()
    walked = sample_vibration(data, fit, 200, 1)
    taken = time.process_time() - start
    yield Goal("V3: 200 draws by walks, velocities unknown, EXP(N)", taken / unit, at_most=150_000)
    yield Goal("V3: independent draws they are worth, 5th percentile",
               float(np.quantile(walked.effective, 0.05)), at_least=50)
    yield Goal("V3: the same, seconds", taken)


def exactness(full: bool) -> Iterator[Goal]:
    """Return how far coefficients are from another program's."""
    for is_truncated in (False, True):
        data, velocity, covariate = plain_world(20_000 if full else 4_000, 1, seed=4,
                                                is_truncated=is_truncated)
        frame = pd.DataFrame({"days": data.low, "failed": data.failure, "entry": data.entry,
                              "v": velocity, "flow": covariate})
        columns = ["days", "failed", "v", "flow", *(["entry"] if is_truncated else [])]
        their = WeibullAFTFitter().fit(frame[columns], "days", "failed", **(
            {"entry_col": "entry"} if is_truncated else {})).params_
        theta = plain_fit(data, velocity)[0]
        off = np.abs(theta - [their["lambda_", "Intercept"], -their["lambda_", "v"],
                              their["rho_", "Intercept"], -their["lambda_", "flow"]]).max()
        name = "left-truncated" if is_truncated else "from new"
        yield Goal(f"coefficients against lifelines, {name}", float(off), at_most=1e-4)


def recovery(full: bool) -> Iterator[Goal]:
    """Return coverage and bias where every hose is seen from new."""
    sets = [latent(NEW, seed) for seed in range(24 if full else 6)]
    exponent = [inside(found.draws.exponent, found.truth.m) for found in sets]
    off, on = ([inside(*found.log_b10(AT, rho)) for found in sets] for rho in (OFF, ON))
    k = [float(np.median(found.draws.common("resonance"))) for found in sets]
    yield Goal("B10 in a class, off resonance, inside its 90 % range", _share(off), 0.94, 0.86)
    yield _error_of(off)
    yield Goal("B10 in a class, at resonance, inside its 90 % range", _share(on), 0.94, 0.86)
    yield _error_of(on)
    yield Goal("exponents inside their 90 % range", _share(exponent), at_least=0.85)
    yield _error_of(exponent)
    yield Goal("mean error of exponents", _bias(exponent), 0.10, -0.10)
    yield Goal("power of resonance, planted 1.8", float(np.mean(k)), 1.85, 1.75)


def readings(full: bool) -> Iterator[Goal]:
    """Return what believing the readings, or fitting alone, costs."""
    seeds = range(8 if full else 2)
    right = [inside(found.draws.exponent, found.truth.m)
             for found in (latent(NEW, seed) for seed in seeds)]
    raw = [inside(found.draws.exponent, found.truth.m)
           for found in (believing(NEW, seed, is_imputed=False) for seed in seeds)]
    # A fit that runs away counts as wrong by five: worse would drown the rest.
    alone = np.clip(np.concatenate([alone_exponents(NEW, seed) for seed in seeds]), -5.0, 5.0)
    ours = np.concatenate([error for _, error in right])
    yield Goal("error of exponents over that of readings believed", _rms(right) / _rms(raw), 0.75)
    known = np.isfinite(alone)
    yield Goal("error of exponents over that of constructions alone",
               float(np.sqrt((ours[known] ** 2).mean() / (alone[known] ** 2).mean())), 0.60)
    yield Goal("exponents inside, readings believed: must fail", _share(raw), 0.75)


def missing(full: bool) -> Iterator[Goal]:
    """Return what a class's mean in place of a missing reading costs."""
    seeds = range(8 if full else 2)
    put = [inside(*found.log_b10(AT, OFF))
           for found in (believing(NEW, seed, is_imputed=True) for seed in seeds)]
    few = [inside(*found.log_b10(AT, OFF)) for found in (latent(FEW, seed) for seed in seeds)]
    yield Goal("B10 inside, class mean for missing readings: must fail", _share(put), 0.60)
    yield Goal("mean error of log B10, 80 % never measured", _bias(few), 0.10, -0.10)


def history(full: bool) -> Iterator[Goal]:
    """Return coverage where places ran for years before the records began."""
    for what, world in (("old places", OLD), ("installations known from the first day", WHOLE)):
        sets = [latent(world, seed) for seed in range(48 if full else 4)]
        off = [inside(*found.log_b10(AT, OFF)) for found in sets]
        on = [inside(*found.log_b10(AT, ON)) for found in sets]
        yield Goal(f"B10 away from resonance inside, {what}", _share(off), at_least=0.84)
        yield Goal(f"mean error of log B10, {what}", _bias(off))
        yield Goal(f"B10 at resonance inside, {what}", _share(on),
                   at_least=None if world is OLD else 0.86)  # the former is kept blank
        yield _error_of(on)


def chances(full: bool) -> Iterator[Goal]:
    """Return how far chances of outlasting are off, in joint and in separate draws."""
    for is_joint in (True, False):
        pairs = [outlasting_chances(latent(NEW, seed), seed, is_joint=is_joint,
                                    n=800)
                 for seed in range(4 if full else 2)]
        said, true = (np.concatenate(part) for part in zip(*pairs, strict=True))
        gap = worst_gap(said, true)
        yield (Goal("chances of outlasting, largest gap in five bands", gap, 0.08) if is_joint
               else Goal("the same, both drawn apart: must fail", gap, at_least=0.10))


def confounding(full: bool) -> Iterator[Goal]:
    """Return whether stiff hoses at bad places mislead, and whether the alarm says so."""
    seeds = range(6 if full else 2)
    for what, is_due in (("nobody", False), ("velocity", False), ("hidden", True)):
        world = World(n_places=1600, stiff_on=what)
        sets = [latent(world, seed, is_walked=False, has_place_stiffness=True) for seed in seeds]
        # Against the slope that the constructions drawn happen to have.
        slope = [float(np.median(found.draws.common("stiffness"))) - float(np.polyfit(
            found.data.stiffness, found.truth.a, 1)[0]) for found in sets]
        heard = float(np.mean([rings(found) for found in sets]))
        if what == "velocity":
            yield Goal("error of the slope on stiffness, stiff where it shakes",
                       float(np.mean(slope)), 0.05, -0.05)
        yield Goal(f"share of worlds with the alarm, stiff by {what}", heard,
                   *((None, 0.83) if is_due else (0.17, None)))


def hull(full: bool) -> Iterator[Goal]:
    """Return gross errors of what is shown and hidden, the law right and bent."""
    seeds = range(3 if full else 1)
    for what, world in (("right", NEW), ("bent", World(bend=1.8))):
        found = [map_errors(latent(world, seed, bends=(-0.2, 0.3, 0.8))) for seed in seeds]
        wrong, shown = (np.concatenate(part) for part in zip(*found, strict=True))
        gross = np.abs(wrong) > np.log(3.0)
        yield Goal(f"shown cells off by more than threefold, law {what}",
                   float(gross[shown].mean()), 0.04 if what == "right" else 0.10)
        yield Goal(f"share shown over share hidden of such errors, law {what}",
                   float(gross[shown].mean() / max(gross[~shown].mean(), 1e-9)), 0.5)
        yield Goal(f"share of cells shown, law {what}", float(shown.mean()))


def _error_of(parts) -> Goal:
    """Return the standard error of a share over worlds: constructions of one lean together."""
    each = [float(ok.mean()) for ok, _ in parts]
    return Goal(f"  standard error of that share, {len(each)} worlds",
                float(np.std(each, ddof=1) / np.sqrt(len(each))))


def _share(parts) -> float:
    return float(np.mean(np.concatenate([ok for ok, _ in parts])))


def _bias(parts) -> float:
    return float(np.mean(np.concatenate([error for _, error in parts])))


def _rms(parts) -> float:
    return float(np.sqrt(np.mean(np.concatenate([error for _, error in parts]) ** 2)))


def worst_gap(said, true) -> float:
    """Return how far chances said in five bands are from what came true."""
    band = np.minimum((said * 5).astype(int), 4)
    return max(abs(float(said[band == b].mean() - true[band == b].mean()))
               for b in range(5) if (band == b).sum() >= 15)


def rings(found) -> bool:
    """Return whether the alarm rings in a world."""
    return stands_apart(found.draws.common("place_stiffness"), 0.90)


VIBRATION_GOALS = {"V1": exactness, "V2": speed, "V4": recovery, "V5": readings, "V6": missing,
                   "V7": history, "V8": chances, "V9": confounding, "V10": hull,
                   **EVIDENCE_GOALS}

if __name__ == "__main__":
    run(VIBRATION_GOALS, "tests.bench.goals_vibration")
