"""What to do next at a service point, with the reason beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from etl.decide.words import percent

DANGEROUS = frozenset({"toxic", "flammable", "asphyxiant", "cryogenic", "hot", "pressure"})
"""Hazards whose release can hurt; such a place is never run to failure."""

TRIAL_SHARE = 0.5
"""Share of failures by a mechanism from which on it counts as the place's mechanism."""

LIKELY = 0.20
WORTH_CHANGING = 1.5
"""A change is planned when failure within 90 days is this likely, and this much likelier than with
a new hose: at a constant hazard a new hose is no better than an old one."""

BY_MECHANISM = {
    "torsion_fatigue": ("Turn into the plane of movement", "twist was concluded"),
    "bend_fatigue": ("Give it more length or a wider bend", "over-bending was concluded"),
    "pit_internal": ("Ask an engineer about the alloy", "pitting from inside was concluded"),
    "cl_scc": ("Ask an engineer about the alloy", "stress corrosion cracking was concluded"),
    "corr_external": ("Keep drips and wet lagging off", "outside corrosion was concluded"),
    "abrasion_external": ("Guard or re-route", "rubbing was concluded"),
    "weld_fitting": ("Check the supply", "weld or fitting faults were concluded"),
    "mfg_defect": ("Check the batch", "manufacturing defects were concluded"),
    "install_damage": ("Check the installation", "fitting damage was concluded"),
    "overpressure": ("Check pressure and surge now", "overpressure was concluded"),
    "squirm": ("Check support and end load", "squirm was concluded"),
    "axial_misuse": ("Anchor and guide the pipe", "axial load was concluded"),
    "thermal": ("Warm up slowly, drain first", "thermal damage was concluded"),
    "erosion_internal": ("Lower the speed or fit a liner", "erosion was concluded"),
    "flow_vib": ("Start a trial", "flow-induced vibration was concluded"),
    "vib_fatigue": ("Start a trial", "vibration was concluded"),
    "braid_wear": ("Start a trial", "braid wear was concluded"),
}


SOON_DAYS = 90.0
"""A planned change within a quarter of a year is the next step, before any other improvement."""


@dataclass(frozen=True)
class PlannedChange:
    """The planned change of the present hose.

    Attributes
    ----------
    age_days : float
        Age at which it is to be changed.
    in_days : float
        Days until then.
    by : str
        The day in words.
    reason : str
    is_required : bool
        By the site's rule, not by cost.
    """

    age_days: float
    in_days: float
    by: str
    reason: str
    is_required: bool


@dataclass(frozen=True)
class PlaceFacts:
    """What is known of a place when the next step is chosen."""

    hazards: Sequence[str]
    n_failures: int
    n_early_failures: int
    expected_so_far: float
    is_failure_prone: bool
    mechanism: str | None
    mechanism_share: float
    failure_probability_90_days: float
    chance_if_new: float
    has_hose: bool
    is_dear: bool
    replacement: PlannedChange | None = None
    adopted: str | None = None
    """Construction that a trial has adopted for the class, where another one is fitted here."""
    is_in_trial: bool = False
    """A registered trial runs here."""


def next_step(facts: PlaceFacts) -> tuple[str, str]:
    """Choose the next step at a service point.

    Parameters
    ----------
    facts : PlaceFacts

    Returns
    -------
    tuple of str
        A verb phrase, and the reason for it. Both are suggestions for a qualified person.
    """
    if not facts.has_hose:
        return "Nothing to do", "no hose is in service here"
    planned = facts.replacement
    is_soon = planned is not None and planned.in_days <= SOON_DAYS
    if planned and is_soon and planned.is_required:
        return _change(planned)
    if facts.n_early_failures >= 2 and facts.n_early_failures * 2 >= facts.n_failures:
        return (
            "Check the installation",
            f"{facts.n_early_failures} of {facts.n_failures} failures came within 90 days",
        )
    if facts.is_failure_prone:
        return _step_for_prone(facts)
    if planned and is_soon:
        return _change(planned)
    return _step_for_steady(facts)


def _change(planned: PlannedChange) -> tuple[str, str]:
    """Say by when the present hose is to be changed."""
    if planned.in_days <= 1.0:
        return "Replace at the next chance", planned.reason
    return f"Replace by {planned.by}", planned.reason


def _step_for_steady(facts: PlaceFacts) -> tuple[str, str]:
    """Choose for a place that fails no faster than its peers and has nothing due soon."""
    planned = facts.replacement
    if _is_worn(facts):
        return (
            "Plan the next change",
            f"{percent(facts.failure_probability_90_days)} chance of failing within 90 days, "
            f"against {percent(facts.chance_if_new)} for a new hose",
        )
    if planned is None and facts.n_failures <= 1 and facts.expected_so_far < 1:
        return "Keep recording", "too little is known here for anything stronger"
    if facts.mechanism and facts.mechanism_share >= TRIAL_SHARE and facts.n_failures >= 3:
        step, why = BY_MECHANISM.get(facts.mechanism, ("Examine the next hose", "unclear"))
        if step != "Start a trial":
            return step, f"{why} in {percent(facts.mechanism_share)} of the failures"
    if planned:
        return f"Replace at {planned.age_days:.0f} days", planned.reason
    if facts.is_dear and facts.adopted:
        return _switch(facts.adopted, "dear")
    if facts.is_dear:
        return (
            "Compare kinds of hose",
            "dear, but fails no faster than like places: only another construction could cure it",
        )
    danger = [hazard for hazard in facts.hazards if hazard in DANGEROUS]
    if danger:
        return (
            "Keep to its inspections",
            f"fails no faster than like places; {', '.join(danger)} service is not run to failure: "
            "keep what its rules ask for",
        )
    return "Leave as it is", "fails no faster than like places"


def _step_for_prone(facts: PlaceFacts) -> tuple[str, str]:
    """Choose for a place that fails faster than its peers."""
    step, why = "Start a trial", "the mechanism is not known"
    if facts.mechanism and facts.mechanism_share >= TRIAL_SHARE:
        step, why = BY_MECHANISM.get(facts.mechanism, (step, why))
        why = f"{why} in {percent(facts.mechanism_share)} of the failures"
    if step == "Start a trial" and facts.is_in_trial:
        return "Leave it to its trial", f"{why}; a trial runs here, and its rule decides"
    if step == "Start a trial" and facts.adopted:
        return _switch(facts.adopted, why)
    dangerous = sorted(DANGEROUS.intersection(facts.hazards))
    if step == "Start a trial" and {"toxic", "flammable", "asphyxiant"}.intersection(dangerous):
        return (
            "Shorten the planned interval",
            f"{why}; {', '.join(dangerous)} service is not run to failure",
        )
    return step, why


def _switch(construction: str, why: str) -> tuple[str, str]:
    """Propose what a trial has adopted instead of a trial that would ask the same again."""
    return (f"Fit {construction} next",
            f"{why}; a trial adopted it for this class, rating, bend and alloy to be confirmed")


def _is_worn(facts: PlaceFacts) -> bool:
    """Tell whether a new hose would be clearly less likely to fail soon than the present one."""
    chance = facts.failure_probability_90_days
    return chance >= LIKELY and chance >= WORTH_CHANGING * facts.chance_if_new
