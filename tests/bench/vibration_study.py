"""One invented world of vibration at a time: fitted in several ways, set against its truth."""

from dataclasses import dataclass, replace

import numpy as np

from etl.errors import FitError
from etl.life.vibration.data import VibrationData
from etl.life.vibration.draws import VibrationDraws, draw_places, draw_vibration
from etl.life.vibration.exposure import exposure_design, exposure_from
from etl.life.vibration.fit import VibrationFit, fit_vibration
from etl.life.vibration.hull import LEAST_PLACES, LEAST_SUPPORT, WIDEST, support
from etl.life.vibration.lives import log_median_here, population_log_b10
from etl.life.vibration.plain import plain_fit
from etl.life.vibration.sampler import sample_vibration
from etl.life.vibration.terms import Terms
from tests.bench.vibration_world import Truth, World, make

AT = np.log(13.0 / 8.0)
"""Velocity at which lives are compared with the truth: 13 mm/s."""
OFF, ON = -1.5, 0.0
"""Log of excitation over natural frequency, far below resonance and on it."""
KNOWN = 0.02
"""Error of a reading that is taken at its word."""


@dataclass(frozen=True)
class Found:
    data: VibrationData
    truth: Truth
    terms: Terms
    fit: VibrationFit
    draws: VibrationDraws

    @property
    def n_failures(self):
        return np.bincount(self.data.construction, weights=self.data.failure,
                           minlength=self.data.n_constructions)

    def log_b10(self, velocity, rho):
        """Return draws of log B10 of every construction in every class, and the truth.

        Of one class alone all 40 lean with its one effect: few worlds then say next to nothing.
        """
        k, n = self.data.n_constructions, self.data.n_groups
        group, c = np.divmod(np.arange(k * n), k)
        y, q = np.full(k * n, velocity), np.full(k * n, rho)
        drawn = population_log_b10(self.draws, c, group, y, q, np.zeros((k * n, 0)),
                                   np.zeros(k * n))
        return drawn, self.truth.log_b10(c, y, q)


def terms_for(data, **more):
    return Terms(data.n_constructions, data.n_groups, 0, has_resonance=True, **more)


def latent(world: World, seed: int, *, is_walked: bool = True, **more) -> Found:
    """Fit with everything unknown that is unknown; the alarm of an edition needs no walks."""
    data, truth = make(world, seed)
    terms = terms_for(data, **more)
    fit = fit_vibration(data, terms)
    draws = (sample_vibration(data, fit, 200, seed).draws if is_walked
             else draw_vibration(fit, 200, seed))
    return Found(data, truth, terms, fit, draws)


def _relabelled(data: VibrationData, keep) -> VibrationData:
    number = np.cumsum(keep) - 1
    mine = keep[data.place]
    return replace(
        data, **{name: getattr(data, name)[mine] for name in (
            "construction", "entry", "low", "high", "failure", "count", "rival")},
        **{name: getattr(data, name)[keep] for name in (
            "group", "covariates", "log_frequency_ratio")},
        place=number[data.place[mine]], reading_place=number[data.reading_place])


def believing(world: World, seed: int, *, is_imputed: bool) -> Found:
    """Fit as if readings were exact; places without one left out, or given their class's mean."""
    data, truth = make(world, seed)
    read = data.n_readings > 0
    exposure = exposure_from(data, exposure_design(data))
    mean = np.bincount(data.reading_place, weights=data.reading, minlength=data.n_places) / (
        np.maximum(data.n_readings, 1))
    if is_imputed:
        mean = exposure.mean  # calibrated where measured, that of the class elsewhere
        read = np.ones_like(read)
    given = replace(data, reading_place=np.flatnonzero(read), reading=mean[read])
    given = _relabelled(given, read)
    terms = terms_for(given)
    fit = fit_vibration(given, terms, error_sd=KNOWN)
    return Found(given, truth, terms, fit, draw_vibration(fit, 200, seed))


def alone_exponents(world: World, seed: int):
    """Return exponents of constructions fitted one by one on calibrated readings, and the truth."""
    data, truth = make(world, seed)
    exposure = exposure_from(data, exposure_design(data))
    error = np.full(data.n_constructions, np.nan)
    read = data.n_readings > 0
    for c in range(data.n_constructions):
        mine = (data.construction == c) & read[data.place]
        if data.failure[mine].sum() < 3:
            continue
        one = replace(data, **{name: getattr(data, name)[mine] for name in (
            "place", "entry", "low", "high", "failure", "count", "rival")},
            construction=np.zeros(mine.sum(), np.int64), stiffness=np.zeros(1),
            log_frequency_ratio=np.full((data.n_places, 1), np.nan))
        try:
            error[c] = plain_fit(one, exposure.mean)[0][1] - truth.m[c]
        except FitError:
            continue
    return error


def inside(drawn, true):
    """Return which truths lie in the 90 % range, and the errors of the medians."""
    low, middle, high = np.quantile(drawn, [0.05, 0.5, 0.95], axis=0)
    return (low <= true) & (true <= high), middle - true


def drawn_log_life(draws: VibrationDraws, c: int, group: int, velocity, log_ratio):
    """Return the log characteristic life of one hose in each draw, its place drawn with it."""
    life, exponent, _, effect, common = draws.terms.split(draws.theta)
    columns = draws.terms.columns(velocity, log_ratio, np.zeros((velocity.size, 0)),
                                  np.zeros(velocity.size))
    return life[:, c] + effect[:, group] - exponent[:, c] * velocity + (common * columns).sum(1)


def outlasting_chances(found: Found, seed: int, *, n: int = 300, is_joint: bool = True):
    """Return the chance said, for random places and pairs, and whether it came true."""
    rng = np.random.default_rng([seed, 79])
    data, truth, draws = found.data, found.truth, found.draws
    places = draw_places(data, found.fit, draws, seed)
    said, true = np.empty(n), np.empty(n, bool)
    for number in range(n):
        p = int(rng.integers(data.n_places))
        first, second = rng.choice(data.n_constructions, 2, replace=False)
        drawn, real = [], []
        for c in (first, second):
            rho = data.log_frequency_ratio[p, c]
            mu = drawn_log_life(draws, c, data.group[p], places.velocity[:, p],
                                rho - places.frequency[:, p])
            drawn.append(log_median_here(mu, draws.shape[:, c], places.factor[:, p]))
            real.append(truth.log_life(c, truth.y[p], rho - truth.g[p]) + np.log(
                np.log(2) / truth.z[p]) / truth.b[c])
        if not is_joint:
            drawn[1] = rng.permutation(drawn[1])
        said[number] = (drawn[0] > drawn[1]).mean()
        true[number] = real[0] > real[1]
    return said, true


def map_errors(found: Found):
    """Return the error of log B10 of each cell of every construction, and which are shown."""
    v, q = (grid.ravel() for grid in np.meshgrid(
        np.arange(-1.6, 2.2, 0.4), np.arange(-1.6, 1.4, 0.4), indexing="ij"))
    data, fit = found.data, found.fit
    pairs = fit.pairs
    ratio = data.log_frequency_ratio[pairs.place, pairs.construction]
    velocity, sd = fit.velocity()
    known = np.clip(1 - (sd / fit.exposure.place_sd) ** 2, 0, 1)[pairs.place]
    expected = draw_places(data, fit, found.draws, 1).expected.mean(axis=0)
    shown, wrong = [], []
    for c in range(data.n_constructions):
        mine = pairs.construction == c
        n = v.size
        drawn = population_log_b10(found.draws, np.full(n, c), np.full(n, -1), v, q,
                                   np.zeros((n, 0)), np.zeros(n))
        low, middle, high = np.quantile(drawn, [0.05, 0.5, 0.95], axis=0)
        if mine.any():
            around = support((v, q), (velocity[pairs.place[mine]], ratio[mine]),
                             pairs.n_failures[mine], expected[mine], known[mine],
                             pairs.place[mine])
            own = velocity[pairs.place[mine]]
            shown.append((around.failures >= LEAST_SUPPORT) & (around.n_places >= LEAST_PLACES)
                         & (high - low <= np.log(WIDEST)) & (np.abs(q) >= 0.3)
                         & (v >= own.min()) & (v <= own.max()))
        else:
            shown.append(np.zeros(n, bool))
        wrong.append(middle - found.truth.log_b10(np.full(n, c), v, q))
    return np.concatenate(wrong), np.concatenate(shown)
