"""The regression of life on vibration of one fleet: which terms it has, fitted and drawn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.build.vibration.input import VibrationInput
from etl.life.vibration.data import VibrationData
from etl.life.vibration.draws import PlaceDraws, VibrationDraws, draw_places, draw_vibration
from etl.life.vibration.exposure import LEAST_REPEATS, n_repeats
from etl.life.vibration.fit import VibrationFit, fit_vibration
from etl.life.vibration.lives import stands_apart
from etl.life.vibration.sampler import sample_vibration
from etl.life.vibration.terms import Terms
from etl.settings import Settings

Floats = NDArray[np.float64]

BENDS = (0.25, 0.50, 0.75)
"""Shares of the readings at which the law may bend: a straight one is too sure of itself."""
PLACES_FOR_BENDS = 30
FAILURES_FOR_RESONANCE = 20
LEAST_STIFFNESSES = 3
PAIRS_FOR_ALL, MOST_STEP = 8_000, 4
"""Pairs of place and construction up to which every draw is taken to the places; beyond, fewer,
down to one in four."""
PAIRS_FOR_WALKS = 6_000
"""Pairs up to which draws come from walks over the posterior itself; beyond, walks would keep an
edition waiting (a minute at 40,000) for next to nothing: at 10,000 pairs ranges of exponents held
90 of 100 from the parabola at the mode and 92 from walks, of shapes 88 and 88, of lives away from
resonance 91 and 91 (four invented worlds of 40 constructions)."""
ERRORS = (0.15, 0.30, 0.50)
"""Errors of a reading that are tried side by side where the site's own is not known."""


@dataclass(frozen=True)
class Alarm:
    """Slope of log life on stiffness, as seen within places and between them.

    Attributes
    ----------
    within, apart : ndarray, shape (n_draws,)
        Slope within places, and how much more between them.
    rings : bool
        The latter is beyond chance and large enough to matter.
    """

    within: Floats
    apart: Floats
    rings: bool


@dataclass(frozen=True)
class Model:
    """What the tables are made of."""

    input: VibrationInput
    fit: VibrationFit
    draws: VibrationDraws
    draws_here: VibrationDraws
    """The draws that those of places go with: fewer in a large fleet."""
    places: PlaceDraws
    alarm: Alarm | None
    effective: float | None
    """Independent draws that the draws are worth; None where they are independent."""

    def exponents(self) -> Floats:
        """Return the exponent of each construction over the readings, bends averaged in.

        Returns
        -------
        ndarray, shape (n_draws, n_constructions)
        """
        return self.draws.exponent + bend_share(self.draws)[:, None]


def bend_share(draws: VibrationDraws) -> Floats:
    """Return what bends add to an exponent on average over the readings, shape (n_draws,)."""
    n = len(draws.terms.bends)
    if not n:
        return np.zeros(draws.theta.shape[0])
    first = draws.terms.at("bend")
    return np.asarray(draws.theta[:, first:first + n] @ (1.0 - np.array(BENDS)), np.float64)


def lacking(data: VibrationData | None, settings: Settings) -> str:
    """Say what is lacking for a regression on vibration; empty when nothing is.

    Examples
    --------
    >>> lacking(None, Settings())
    'No vibration reading of a place with a hose on record.'
    """
    if data is None:
        return "No vibration reading of a place with a hose on record."
    read = data.n_readings > 0
    failures = float((data.failure * data.count)[read[data.place]].sum())
    short = []
    if read.sum() < settings.vibration_least_places:
        short.append(f"{read.sum()} of the {settings.vibration_least_places} measured places")
    if failures < settings.vibration_least_failures:
        short.append(f"{failures:.0f} of the {settings.vibration_least_failures} failures by "
                     "vibration at measured places")
    if not short:
        return ""
    return f"Too little is known: {' and '.join(short)} that a figure would need."


def model_of(given: VibrationInput, settings: Settings) -> Model:
    """Fit and draw.

    Parameters
    ----------
    given : VibrationInput
    settings : Settings

    Returns
    -------
    Model
        Split by stiffness within and between places where the split shows that stiff hoses stand
        at bad (or good) places; without it, and sharper, where it shows nothing.
    """
    data = given.data
    has_alarm = np.unique(np.round(data.stiffness, 3)).size >= LEAST_STIFFNESSES
    terms = terms_of(data, has_place_stiffness=has_alarm)
    fit = fit_vibration(data, terms)
    alarm = None
    if has_alarm:
        quick = draw_vibration(fit, settings.n_draws, settings.seed)
        alarm = alarm_of(quick, settings.confidence)
        if not alarm.rings:
            fit = fit_vibration(data, terms_of(data, has_place_stiffness=False), split=fit)
    draws, effective = drawn(data, fit, settings)
    step = min(MOST_STEP, max(1, round(fit.pairs.size / PAIRS_FOR_ALL)))
    here = VibrationDraws(draws.terms, draws.theta[::step])
    return Model(given, fit, draws, here, draw_places(data, fit, here, settings.seed), alarm,
                 effective)


def drawn(
    data: VibrationData, fit: VibrationFit, settings: Settings
) -> tuple[VibrationDraws, float | None]:
    """Return joint draws, and what the worst known of them are worth in independent ones.

    Returns
    -------
    draws, effective
        The latter is the twentieth part of all parameters counted from the worst; None where the
        draws are independent, from the parabola at the mode.
    """
    if fit.pairs.size > PAIRS_FOR_WALKS:
        return draw_vibration(fit, settings.n_draws, settings.seed), None
    found = sample_vibration(data, fit, settings.n_draws, settings.seed)
    return found.draws, float(np.quantile(found.effective, 0.05))


def terms_of(data: VibrationData, *, has_place_stiffness: bool) -> Terms:
    """Return which terms the records can carry."""
    ratio = data.log_frequency_ratio[data.place, data.construction]
    known = float((data.failure * data.count)[np.isfinite(ratio)].sum())
    n_read = int((data.n_readings > 0).sum())
    knots: Floats = np.quantile(data.reading, BENDS if n_read >= PLACES_FOR_BENDS else [])
    return Terms(
        data.n_constructions, data.n_groups, data.covariates.shape[1],
        has_resonance=known >= FAILURES_FOR_RESONANCE,
        bends=tuple(float(knot) for knot in knots), has_place_stiffness=has_place_stiffness)


def alarm_of(draws: VibrationDraws, confidence: float) -> Alarm:
    """Set what shows between places against what shows within them.

    Notes
    -----
    A hose is stiff at all its places; a place has hoses of different stiffness one after another.
    If only the mean stiffness of a place goes with life, and not the change from hose to hose,
    stiffness stands for something else about the place.
    """
    apart = draws.common("place_stiffness")
    return Alarm(draws.common("stiffness"), apart, stands_apart(apart, confidence))


def by_error(model: Model, settings: Settings) -> list[tuple[float, bool, Floats]]:
    """Return the mean exponent under each error of a reading that may hold.

    Returns
    -------
    list of (error_sd, is_estimated, draws)
        One entry where repeats tell the error; three where they do not.
    """
    data, terms = model.input.data, model.fit.terms
    if n_repeats(data) >= LEAST_REPEATS:
        return [(model.fit.exposure.error_sd, True,
                 model.draws.common("exponent") + bend_share(model.draws))]
    found = []
    for error in ERRORS:
        fit = fit_vibration(data, terms, error_sd=error)
        draws = draw_vibration(fit, settings.n_draws, settings.seed)
        found.append((error, False, draws.common("exponent") + bend_share(draws)))
    return found
