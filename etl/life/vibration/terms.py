"""Parameters of the regression of life on vibration: where each stands, and its prior."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from etl.life.vibration.resonance import resonance

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

PRIOR = {"life": (7.0, 3.0), "exponent": (2.0, 1.5), "log_shape": (0.4, 0.5),
         "resonance": (2.0, 1.0), "covariate": (0.0, 2.0), "bend": (0.0, 0.5),
         "place_stiffness": (0.0, 1.0), "stiffness": (0.0, 1.0)}
"""Mean and standard deviation of the parameters common to the fleet; wide, our choice. The
exponent is that of log life on log velocity."""
HYPER = ("life", "exponent", "log_shape", "stiffness")


@dataclass(frozen=True)
class Terms:
    """Which parameters there are, in the order of the vector.

    Attributes
    ----------
    n_constructions, n_groups, n_covariates : int
    has_resonance : bool
    bends : tuple of float
        Log velocities from which on the exponent may be another, for all constructions alike.
    has_place_stiffness : bool
        Split the effect of stiffness into what shows within places and between them.
    has_places : bool
        False: velocities are known, places have no factor of their own, nothing is pooled.

    Notes
    -----
    Order: log life, exponent and log shape of every construction; effect of every class; then
    resonance, bends, covariates, place stiffness; then the model of velocities (mean by class,
    slope on stiffness, log of both standard deviations) and the log concentration of the factor
    of a place; last the three means of constructions and the slope of log life on stiffness,
    which only the prior knows.
    """

    n_constructions: int
    n_groups: int
    n_covariates: int
    has_resonance: bool = False
    bends: tuple[float, ...] = field(default=())
    has_place_stiffness: bool = False
    has_places: bool = True

    @property
    def names(self) -> list[str]:
        """Kinds of the common parameters of log life."""
        return (["resonance"] * self.has_resonance + ["bend"] * len(self.bends)
                + ["covariate"] * self.n_covariates
                + ["place_stiffness"] * self.has_place_stiffness)

    @property
    def place_names(self) -> list[str]:
        """Kinds of the parameters of places."""
        if not self.has_places:
            return []
        return ["velocity"] * (self.n_groups + 1) + ["log_place_sd", "log_error_sd", "log_nu"]

    @property
    def n_effects(self) -> int:
        """Parameters before the common ones."""
        return 3 * self.n_constructions + self.n_groups

    @property
    def n_life(self) -> int:
        """Parameters of log life and shape."""
        return self.n_effects + len(self.names)

    @property
    def n_seen(self) -> int:
        """Parameters that the likelihood sees."""
        return self.n_life + len(self.place_names)

    @property
    def size(self) -> int:
        """All parameters."""
        return self.n_seen + len(HYPER) * self.has_places

    def at(self, name: str) -> int:
        """Return where the first common parameter of a kind stands."""
        return self.n_effects + [*self.names, *self.place_names, *HYPER].index(name)

    def split(self, theta: Floats) -> tuple[Floats, Floats, Floats, Floats, Floats]:
        """Return log life, exponent, log shape, effect of class and common parameters."""
        c = self.n_constructions
        return (theta[..., :c], theta[..., c:2 * c], theta[..., 2 * c:3 * c],
                theta[..., 3 * c:self.n_effects], theta[..., self.n_effects:self.n_life])

    def split_places(self, theta: Floats) -> tuple[Floats, float, float, float]:
        """Return the model of velocities and the concentration: infinite without places."""
        if not self.has_places:
            return np.zeros(self.n_groups + 1), 1.0, 1.0, np.inf
        last = theta[self.n_life:self.n_seen]
        place_sd, error_sd, nu = np.exp(last[-3:]).tolist()
        return last[:-3], place_sd, error_sd, nu

    def columns(self, velocity: Floats, log_ratio: Floats, covariates: Floats,
                stiffness: Floats) -> Floats:
        """Return what each common parameter multiplies in the log life.

        Parameters
        ----------
        velocity, log_ratio : ndarray, shape (...)
            Log velocity, and log of excitation over natural frequency (NaN unknown).
        covariates : ndarray, shape (..., n_covariates)
        stiffness : ndarray, shape (...)
            Mean stiffness at the place.

        Returns
        -------
        ndarray, shape (..., n_common)
        """
        parts = [-resonance(log_ratio)] if self.has_resonance else []
        parts += [-np.maximum(velocity - knot, 0.0) for knot in self.bends]
        parts += [-covariates[..., j] for j in range(self.n_covariates)]
        parts += [stiffness] if self.has_place_stiffness else []
        # One after another in memory: side by side they cost twice, here and where read.
        return np.moveaxis(np.stack(parts), 0, -1) if parts else np.empty((*velocity.shape, 0))


@dataclass(frozen=True)
class Spread:
    """How much constructions and classes differ: standard deviations of their effects."""

    life: float = 0.5
    exponent: float = 0.5
    log_shape: float = 0.15
    group: float = 0.7

    def as_array(self) -> Floats:
        """Return the four in the order of the parameters."""
        return np.array([self.life, self.exponent, self.log_shape, self.group])


FIRST_SPREAD = Spread()
"""Also the centre of the prior of each spread, worth `SPREAD_WEIGHT` observations."""
SPREAD_WEIGHT = 2.0


@dataclass(frozen=True)
class Prior:
    """The prior as statements about sums of parameters.

    Attributes
    ----------
    rows : ndarray, shape (n, size)
    mean, sd : ndarray, shape (n,)
        Each sum of parameters is normal around the mean.
    kind : ndarray of int, shape (n,)
        0..3: the sd is that of `Spread`; -1: the one given.
    """

    rows: Floats
    mean: Floats
    sd: Floats
    kind: Ints

    def precision(self, spread: Spread) -> Floats:
        """Return the precision of each statement, shape (n,)."""
        sd = np.where(self.kind >= 0, spread.as_array()[np.maximum(self.kind, 0)], self.sd)
        return np.asarray(1.0 / sd**2, np.float64)

    def rest(self, theta: Floats) -> Floats:
        """Return how far each statement is off, shape (n,)."""
        return np.asarray(self.rows @ theta - self.mean, np.float64)


def prior_of(
    terms: Terms, stiffness: Floats, places: dict[str, tuple[float, float]]
) -> Prior:
    """Return the prior.

    Parameters
    ----------
    terms : Terms
        With places.
    stiffness : ndarray, shape (n_constructions,)
    places : dict
        Mean and sd of the parameters of places by kind.

    Returns
    -------
    Prior
    """
    c, g = terms.n_constructions, terms.n_groups
    n = 3 * c + g
    common = [*terms.names, *terms.place_names, *HYPER]
    rows = np.zeros((n + len(common), terms.size))
    mean, sd = np.zeros(rows.shape[0]), np.ones(rows.shape[0])
    kind = np.r_[np.repeat([0, 1, 2], c), np.full(g, 3), np.full(len(common), -1)]
    rows[np.arange(n), np.arange(n)] = 1.0
    for number, name in enumerate(HYPER[:3]):
        rows[number * c:(number + 1) * c, terms.at(name)] = -1.0
    rows[:c, terms.at("stiffness")] = -stiffness
    for number, name in enumerate(common):
        rows[n + number, terms.n_effects + number] = 1.0
        mean[n + number], sd[n + number] = {**PRIOR, **places}[name]
    mean[n + terms.at("velocity") - terms.n_effects + g] = 0.0  # slope on stiffness
    return Prior(rows, mean, sd, kind.astype(np.int64))
