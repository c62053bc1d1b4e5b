"""Fit of the regression of life on vibration: pooled, with unknown velocities, in seconds."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from etl.errors import FitError
from etl.life.vibration.climb import ENOUGH, Climber
from etl.life.vibration.data import (
    Pairs,
    VibrationData,
    first_log_age,
    gather,
)
from etl.life.vibration.ends import expected_failure, expected_log_age
from etl.life.vibration.exposure import (
    CLASS_SD,
    ERROR_SD,
    ERROR_WEIGHT,
    PLACE_SD,
    PLACE_WEIGHT,
    Exposure,
    believed,
    exposure_design,
    exposure_from,
)
from etl.life.vibration.marginal import Marginal
from etl.life.vibration.nodes import Nodes, first_nodes, moments_of, nodes_at
from etl.life.vibration.terms import FIRST_SPREAD, SPREAD_WEIGHT, Prior, Spread, Terms, prior_of

Floats = NDArray[np.float64]

N_ROUNDS, LEAST_ROUNDS = 25, 4
SETTLED = 0.10
"""Change of the parameters over a round, in standard deviations, that ends the rounds."""
CLIMBS, LAST_CLIMBS, LAST_MATRICES = 4, 8, 16
"""Steps along one matrix of second derivatives, which costs many times a gradient."""
PAIRS_AT_FIRST = 3_500
"""Pairs of place and construction that a large fleet's first rounds look at."""
UNSETTLED = 0.01
"""Gain in log posterior promised by a further step, above which a fit is none."""
NU = (float(np.log(3.0)), 1.0)
"""Prior of the log concentration of what nobody recorded about a place (wide, our choice)."""
FAR_NODES, N_NODES = 89, 24
"""Points a place: to find what is believed of it, and to work with."""
NEARER = ((55, 0.10), (55, 0.04), (N_NODES, 0.02))
"""Points, and the smallest spread that they are given, nearer each time."""


@dataclass(frozen=True)
class VibrationFit:
    """The regression at its mode, with what its draws need.

    Attributes
    ----------
    terms : Terms
    prior : Prior
    theta : ndarray, shape (terms.size,)
    information : ndarray, shape (terms.n_seen, terms.n_seen)
        Of the likelihood alone, without the prior.
    spread : Spread
    exposure : Exposure
    nodes : Nodes
    share : ndarray, shape (n_places, n_nodes)
        Posterior share of each point at the mode.
    pairs : Pairs
    """

    terms: Terms
    prior: Prior
    theta: Floats
    information: Floats
    spread: Spread
    exposure: Exposure
    nodes: Nodes
    share: Floats
    pairs: Pairs

    @property
    def nu(self) -> float:
        """Concentration of the factor of a place."""
        return self.terms.split_places(self.theta)[3]

    def velocity(self) -> tuple[Floats, Floats]:
        """Return mean and sd of the log velocity of each place, lives looked at."""
        mean, spread = moments_of(self.nodes, self.share)
        return mean[:, 0], spread[:, 0]


class Fitter(Climber):
    """One fit under way: parameters, points of the places and spreads, improved in turn."""

    def __init__(self, data: VibrationData, terms: Terms, error_sd: float | None) -> None:
        """Start from the readings alone."""
        self.data, self.terms = data, terms
        exposure = exposure_from(data, exposure_design(data), error_sd=error_sd)
        self.log_age = first_log_age(data)
        self.pairs = gather(data, self.log_age)
        self.prior = prior_of(terms, data.stiffness, {
            "velocity": (float(data.reading.mean()), CLASS_SD),
            "log_place_sd": (float(np.log(PLACE_SD)), float(np.sqrt(0.5 / PLACE_WEIGHT))),
            "log_error_sd": (float(np.log(error_sd or ERROR_SD)),
                             1e-3 if error_sd else float(np.sqrt(0.5 / ERROR_WEIGHT))),
            "log_nu": NU,
        })
        self.spread = FIRST_SPREAD
        self.nodes = first_nodes(exposure, FAR_NODES, has_frequency=terms.has_resonance)
        self.theta = self._start(exposure)
        self.marginal = Marginal(terms, data, self.pairs, self.nodes)

    def _start(self, exposure: Exposure) -> Floats:
        theta = np.zeros(self.terms.size)
        events = max(float(self.pairs.n_failures.sum()), 0.5)
        exposed = float((self.data.count * np.exp(self.log_age)).sum())
        c = self.terms.n_constructions
        start = {"life": np.log(exposed / events), "exponent": 1.5, "log_shape": 0.4}
        for number, (name, value) in enumerate(start.items()):
            theta[number * c:(number + 1) * c] = value
            theta[self.terms.at(name)] = value
        if self.terms.has_resonance:
            theta[self.terms.at("resonance")] = 1.0
        theta[self.terms.n_life:self.terms.n_seen] = [
            *exposure.effect, np.log(exposure.place_sd), np.log(exposure.error_sd), NU[0]]
        return theta

    def rescale(self, full: Floats) -> None:
        """Re-estimate how much constructions and classes differ."""
        rows, kind = self.prior.rows, self.prior.kind
        rest = self.prior.rest(self.theta)
        covariance = np.linalg.pinv(full, hermitian=True)
        variance = np.maximum(np.einsum("rp,pq,rq->r", rows, covariance, rows), 0.0)
        found = []
        for number, centre in enumerate(FIRST_SPREAD.as_array()):
            mine = kind == number
            total = float((rest[mine] ** 2 + variance[mine]).sum())
            found.append(float(np.sqrt((total + SPREAD_WEIGHT * centre**2)
                                       / (mine.sum() + SPREAD_WEIGHT))))
        self.spread = Spread(*found)

    def relocate(self) -> None:
        """Look afresh at what is believed of every place, and lay its points there."""
        self._reconsider(self.shares())
        has_frequency = self.terms.has_resonance
        effect, place_sd, error_sd, _ = self.terms.split_places(self.theta)
        exposure = believed(self.data, exposure_design(self.data), effect, place_sd, error_sd)
        # From far to near: a place with many failures is known far better than its readings say,
        # and points laid around the wrong spot would never find the right one again.
        self.nodes = first_nodes(exposure, FAR_NODES, has_frequency=has_frequency)
        for n_nodes, least in NEARER:
            self.marginal = Marginal(self.terms, self.data, self.pairs, self.nodes)
            mean, spread = moments_of(self.nodes, self.shares())
            self.nodes = nodes_at(mean, spread, n_nodes, has_frequency=has_frequency, least=least)
        self.marginal = Marginal(self.terms, self.data, self.pairs, self.nodes)

    def shares(self) -> Floats:
        """Return the posterior share of every point, shape (n_places, n_nodes)."""
        share = np.full(self.nodes.velocity.shape, 1.0 / self.nodes.velocity.shape[1])
        share[self.marginal.place] = np.concatenate(
            [parts.share for parts in self.marginal.evaluate(self.theta)])
        return share

    def _reconsider(self, share: Floats) -> None:
        """Put hoses found failed at their expected age, and unknown ends at their likely cause."""
        data, pairs = self.data, self.pairs
        has_spans = bool((np.isfinite(data.high) & (data.high > data.low)).any())
        doubtful = np.flatnonzero(data.rival > 0.0)
        if not has_spans and not doubtful.size:
            return
        key = pairs.place * data.n_constructions + pairs.construction
        mine = np.searchsorted(key, data.place * data.n_constructions + data.construction)
        shape = np.exp(self.terms.split(self.theta)[2])[data.construction]
        found = list(zip(self.marginal.blocks, self.marginal.evaluate(self.theta), strict=True))
        mu, weight = np.concatenate([parts.mu for _, parts in found]), share[pairs.place]
        self.log_age = expected_log_age(
            data, shape, np.exp(-shape * (mu * weight).sum(axis=1)[mine]))
        if doubtful.size:
            pair, b = mine[doubtful], shape[doubtful]
            factor, count = (np.concatenate([block.spread(values) for block, values in part])
                             for part in ([(block, block.factor(parts)) for block, parts in found],
                                          [(block, block.n_failures) for block, _ in found]))
            level = np.log(b) + (b - 1.0) * self.log_age[doubtful]
            failure = data.failure.copy()
            failure[doubtful] = expected_failure(
                level[:, None] - b[:, None] * mu[pair], weight[pair], factor[pair],
                found[0][1].nu + count[pair, 0], data.rival[doubtful])
            self.data = replace(data, failure=failure)
        self.pairs = gather(self.data, self.log_age)

    def settle(self, n_rounds: int) -> None:
        """Improve parameters, spreads and points in turn until they stay."""
        for number in range(n_rounds):
            before = self.theta
            full = self.second_derivatives()
            self.climb(full, CLIMBS)
            self.rescale(full)
            self.relocate()
            change = self.theta - before
            moved = float(change @ full @ change) / change.size
            if number + 1 >= LEAST_ROUNDS and moved < SETTLED**2:
                break

    def finish(self) -> VibrationFit:
        """Climb to the top and return the fit."""
        gain = np.inf
        for _ in range(LAST_MATRICES):
            gain = self.climb(self.second_derivatives(is_exact=True), LAST_CLIMBS)
            if gain < ENOUGH:
                break
        if not gain < UNSETTLED:
            raise FitError(
                "vibration: the regression does not settle. Look for ages or velocities that are"
                " far out, and correct them in the logs.")
        effect, place_sd, error_sd, _ = self.terms.split_places(self.theta)
        return VibrationFit(
            self.terms, self.prior, self.theta, self.marginal.information(self.theta),
            self.spread,
            believed(self.data, exposure_design(self.data), effect, place_sd, error_sd),
            self.nodes, self.shares(), self.pairs)


def fit_vibration(
    data: VibrationData, terms: Terms, *, error_sd: float | None = None, n_rounds: int = N_ROUNDS,
    split: VibrationFit | None = None,
) -> VibrationFit:
    """Fit the pooled regression of life on vibration.

    Parameters
    ----------
    data : VibrationData
        At least one reading; every place with at least one life.
    terms : Terms
        With places.
    error_sd : float, optional
        Error of a reading in log velocity, taken as known when given.
    n_rounds : int
    split : VibrationFit, optional
        Of the same data with stiffness split by place: a fit without the split starts from it.

    Returns
    -------
    VibrationFit

    Raises
    ------
    FitError
        The parameters do not settle.

    Notes
    -----
    Weibull hazards; log characteristic life = own level of the construction + effect of the class
    - own exponent x log velocity - resonance - further terms; a gamma factor a place, integrated
    in closed form; velocity and frequency error of a place integrated over moving points, as in
    Naylor & Smith (1982) but on a lattice. Newton steps on exact second derivatives (Louis 1982),
    in turn with spreads and ages inside intervals at their conditional modes; a large fleet starts
    from part of its places. Ages at entry
    condition on the place, not on places having shown mild.
    """
    fitter = Fitter(data, terms, error_sd)
    step = round(fitter.pairs.size / PAIRS_AT_FIRST)
    if split is not None:
        fitter.theta = np.delete(split.theta, split.terms.at("place_stiffness"))
        fitter.spread = split.spread
        fitter.relocate()
    elif step > 1 and (part := data.every(step)).n_groups == data.n_groups and part.reading.size:
        first = Fitter(part, terms, error_sd)
        first.settle(n_rounds)
        fitter.theta, fitter.spread = first.theta, first.spread
        fitter.relocate()
    else:
        fitter.settle(n_rounds)
    return fitter.finish()
