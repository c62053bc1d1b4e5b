"""What examining the groups of a table of lives found, as plain numbers."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from etl.life.bounds_kinds import SEED
from etl.life.compare_distributions import compare_distributions
from etl.life.examine import MOST_FAILURES, examine
from etl.life.fit import StrataFit
from etl.life.lives_table import LivesTable
from etl.life.simulate import SeenLives
from etl.life.three_parameter import LEAST_FAILURES_FOR_THREE, NOT_TRIED
from etl.life.turnbull import free_survival


def examinations(table: LivesTable, fit: StrataFit) -> list[dict[str, Any]]:
    """Examine the fit of each group: distances, other laws, a later start, two populations.

    Parameters
    ----------
    table : LivesTable
    fit : StrataFit
        Fit of its groups.

    Returns
    -------
    list of dict
        One a group, ready for JSON; a figure that does not exist is None.
    """
    columns = (table.stratum, table.entry, table.low, table.high, table.count)
    versus = compare_distributions(*columns, len(table.groups), fit)
    found = examine(SeenLives(*columns), fit, SEED, table.groups)
    good, three, mixture = found.goodness, found.three, found.mixture
    return [{
        "goodness": {
            "failures_judged": _number(min(fit.n_failures[i] + fit.n_intervals[i], MOST_FAILURES))
            if good.n_simulated[i] else None,
            "anderson_darling": _number(good.departure.anderson_darling[i]),
            "anderson_darling_p_value": _number(good.anderson_darling_p[i]),
            "correlation": _number(good.departure.correlation[i]),
            "correlation_p_value": _number(good.correlation_p[i]),
        },
        "akaike": {
            "weibull": _number(versus.aicc_weibull[i]),
            "lognormal": _number(versus.aicc_lognormal[i]),
            "exponential": _number(versus.aicc_exponential[i]),
            "three_parameter_weibull": _number(found.aicc_three_parameter[i]),
        },
        "three_parameter": {
            "outcome": three.outcome[i], "location": _number(three.location[i]),
            "shape": _number(three.shape[i]), "scale": _number(three.scale[i]),
        },
        "two_populations": {
            "p_value": _number(found.mixture_p[i]),
            "early_share": _number(mixture.share_early[i]),
            "early_characteristic_life": _number(mixture.characteristic_life[i, 0]),
            "late_characteristic_life": _number(mixture.characteristic_life[i, 1]),
        },
    } for i in range(len(table.groups))]


def free_bounds(table: LivesTable, ages: Sequence[float]) -> list[list[dict[str, float | None]]]:
    """Return survival of each group to ages without a law, from its least to its greatest value.

    Parameters
    ----------
    table : LivesTable
    ages : sequence of float

    Returns
    -------
    list of list of dict
        By group, then by age.
    """
    groups = []
    for i in range(len(table.groups)):
        mine = table.stratum == i
        lower, upper = np.full((2, len(ages)), np.nan)
        if mine.any():
            lower, upper = free_survival(table.entry[mine], table.low[mine], table.high[mine],
                                         table.count[mine]).survival(ages)
        groups.append([{"without_law_low": _number(a), "without_law_high": _number(b)}
                       for a, b in zip(lower, upper, strict=True)])
    return groups


def sentences(group: Mapping[str, Any]) -> list[str]:
    """Return what was found in one group, in words.

    Parameters
    ----------
    group : mapping
        An item of `examinations`, or a whole group of a fit.

    Returns
    -------
    list of str
    """
    good, akaike = group["goodness"], group["akaike"]
    said = ["the fit is not judged: that takes ten failures not looked at on common ages"]
    if good["anderson_darling_p_value"] is not None:
        said = [f"fit: of sets drawn from it, {good['anderson_darling_p_value']:.0%} lie as far "
                f"off as a whole, {good['correlation_p_value']:.0%} as far from a straight plot"]
    known = sorted((value, name) for name, value in akaike.items() if value is not None)
    if known:
        said.append("Akaike points: " + ", ".join(
            f"{name.replace('_', '-')} {value:.1f}" for value, name in known)
            + "; under 2 apart, the data cannot tell")
    three = group["three_parameter"]
    if three["outcome"] == "no_finite_estimate":
        said.append("a later start has no finite estimate: the likelihood grows without end as it "
                    "nears the first failure")
    elif three["outcome"] == "estimate":
        said.append(f"with a later start: from {three['location']:.5g}, shape {three['shape']:.4g}")
    elif three["outcome"] == NOT_TRIED:
        said.append(f"a later start is not tried: that takes {LEAST_FAILURES_FOR_THREE} failures "
                    "and a fit from new on")
    two = group["two_populations"]
    if two["early_share"] is not None:
        said.append(f"two populations, {two['early_share']:.0%} with characteristic life "
                    f"{two['early_characteristic_life']:.5g}, the others with "
                    f"{two['late_characteristic_life']:.5g}: p = {two['p_value']:.2g}")
    return said


def _number(value: float) -> float | None:
    """Return a finite number, or None."""
    return float(value) if math.isfinite(value) else None
