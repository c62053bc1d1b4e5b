"""What a trial says in words: the rule fixed beforehand, its state, and what was decided."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from etl.decide.trial.safety import CHANCE, LEAST_EARLY
from etl.decide.trial.sign_flip import LEAST_PAIRS, LEVEL
from etl.decide.words import percent

SETTLED_MEAN_LIVES = 1.5
"""Mean lives that must pass before a claim may speak of mean life where shapes differ: a steeper
shape fails less in its first life, whatever its mean (our simulations)."""
FAVOURED = 0.90
"""Posterior chance from which on an arm is called favoured."""
MANY_MISTAKES = 0.10
"""Share of hoses of the other construction from which on a trial can no longer show its size."""
MANY_RETIRED = 0.25
"""Share of pairs with a retired place from which on the trial is warned about."""

TAKEN = ("adopt", "chosen", "choose", "chose", "prefer", "keep", "kept", "switch", "outlast",
         "lasts longer", "better")
DROPPED = ("reject", "withdraw", "withdrew", "drop", "abandon", "not adopted", "banned",
           "unsafe", "worse")
UNDECIDED = ("no difference", "undecided", "inconclusive", "neither", "no decision")


@dataclass(frozen=True)
class Rule:
    """The rule of a trial, fixed before its start.

    Attributes
    ----------
    ends : str
        Planned end, in words.
    planned_failures : float
        Failures at which the whole error is spent.
    early_limit : float
        Greatest chance of an early failure.
    early_days : int
        Age below which a failure is early.
    n_pairs : int
    is_hazardous : bool
    """

    ends: str
    planned_failures: float
    early_limit: float
    early_days: int
    n_pairs: int
    is_hazardous: bool

    def words(self) -> str:
        """Return the rule as it is registered."""
        early = (
            f"the first failure before {self.early_days} days stops its arm until the hose was "
            "torn down, since the service is hazardous"
            if self.is_hazardous else
            f"an arm stops when it has {LEAST_EARLY} or more failures before {self.early_days} "
            f"days and so many would come with less than {percent(CHANCE)} chance at a limit of "
            f"{percent(self.early_limit)}"
        )
        claim = (
            f"Claim: a difference is claimed only by the sign-flip test inside pairs, looked at "
            f"monthly, {percent(LEVEL)} error in all, spent by failures up to "
            f"{self.planned_failures:.0f}"
            if self.n_pairs >= LEAST_PAIRS else
            f"Claim: none, since fewer than {LEAST_PAIRS} pairs can show nothing"
        )
        return (
            f"Safety: {early}. {claim}. Choice: at the planned end, {self.ends}, the arm that the "
            "posterior expects to cost less; until then the favoured arm is named as not shown. "
            "The trial is not made longer without registering it anew."
        )


@dataclass(frozen=True)
class Standing:
    """What is known of a trial when its state is put into words.

    Attributes
    ----------
    first, second : str
        The arms.
    decision : str or None
    is_ended : bool
        Ended, or past its planned end.
    is_registered : bool
        Planned end and planned failures were registered.
    n_pairs : int
    n_failures : int
    stopped_arm : str or None
        Arm that the safety stop holds for.
    claimed_arm : str or None
        Arm with fewer failures, where the test has claimed.
    is_claim_early : bool
        It was made before the planned end.
    is_settled : bool
        A claim may speak of mean life: shapes agree, or enough mean lives have passed.
    second_longer : float
        Posterior chance that the second arm lasts longer.
    """

    first: str
    second: str
    decision: str | None
    is_ended: bool
    is_registered: bool
    n_pairs: int
    n_failures: int
    stopped_arm: str | None
    claimed_arm: str | None
    is_claim_early: bool
    is_settled: bool
    second_longer: float


def state_of(standing: Standing) -> tuple[str, str]:
    """Return the state of a trial: one or two words, and a sentence.

    Notes
    -----
    "Shown" and "favoured" never mix: the first is the test's alone.
    """
    if standing.stopped_arm and not standing.decision:
        return ("safety stop", f"Stop {standing.stopped_arm}: it has more early failures than "
                "the limit allows. Take it out of every pair; no claim either way.")
    if standing.decision:
        return "decided", f"Decided: {standing.decision}."
    favoured = standing.second if standing.second_longer >= 0.5 else standing.first
    chance = max(standing.second_longer, 1.0 - standing.second_longer)
    if standing.claimed_arm:
        return _claimed(standing)
    if standing.is_ended:
        return ("ended, not decided", f"Ended without a claim: choose {favoured}, right with "
                f"{percent(chance)} chance. A difference was not shown.")
    if standing.n_failures == 0:
        return "too early", "No failure in either arm yet: nothing can be told."
    why = _why_not_shown(standing)
    if chance >= FAVOURED:
        return "favoured", f"{favoured} favoured ({percent(chance)}), not shown: {why}."
    return "open", f"Open: neither arm is favoured yet, and nothing is shown: {why}."


def _claimed(standing: Standing) -> tuple[str, str]:
    """Say what the test has shown."""
    tail = (" Claimed before the planned end, a difference is likely overstated."
            if standing.is_claim_early else "")
    if not standing.is_settled:
        return ("fewer failures so far", f"{standing.claimed_arm} has failed less so far, shown by "
                "the test; the shapes differ, so this is not yet a claim about mean life." + tail)
    return "shown", (f"Shown: {standing.claimed_arm} fails less, by the test fixed beforehand."
                     + tail)


def _why_not_shown(standing: Standing) -> str:
    """Return why the test has not claimed."""
    if not standing.is_registered:
        return "no rule was registered before the start, so nothing can be claimed"
    if standing.n_pairs < LEAST_PAIRS:
        return f"fewer than {LEAST_PAIRS} pairs can show nothing"
    return "the difference is not beyond the limit fixed beforehand"


def verdicts(decision: str, arms: Mapping[str, str]) -> dict[str, bool]:
    """Read which construction a decision takes and which it drops.

    Parameters
    ----------
    decision : str
        As written in the trials log.
    arms : mapping of arm to construction

    Returns
    -------
    dict
        Construction to True (preferred) or False (avoided); empty where the words do not name
        one arm, or name it without saying what becomes of it.

    Examples
    --------
    >>> verdicts("stiff construction adopted", {"flexible": "A", "stiff": "B"})
    {'A': False, 'B': True}
    >>> verdicts("no difference shown, flexible kept", {"flexible": "A", "stiff": "B"})
    {}
    """
    text = decision.casefold()
    if any(word in text for word in UNDECIDED) or len(set(arms.values())) != 2:
        return {}
    found: dict[str, bool] = {}
    for clause in re.split(r"[,;.:]| and | but | while ", text):
        named = [arm for arm, construction in sorted(arms.items())
                 if _names(clause, arm) or _names(clause, construction)]
        is_taken = _fate(clause)
        if len(named) == 1 and is_taken is not None:
            if found.setdefault(named[0], is_taken) != is_taken:
                return {}
    if not found or (len(found) == 2 and len(set(found.values())) == 1):
        return {}
    # What becomes of one arm says what becomes of the other: a trial is a choice between two.
    arm, is_taken = next(iter(sorted(found.items())))
    return {construction: (name == arm) == is_taken for name, construction in sorted(arms.items())}


def _fate(clause: str) -> bool | None:
    """Tell whether a clause takes something or drops it; None where it does neither, or denies."""
    if any(word in clause for word in DROPPED):
        return False
    is_denied = re.search(r"\b(not|no|never|without)\b|n't", clause) is not None
    return True if not is_denied and any(word in clause for word in TAKEN) else None


def _names(text: str, name: str) -> bool:
    """Tell whether a text holds a name as a word of its own; "stiffer" names "stiff" as well."""
    return re.search(rf"(?<![\w-]){re.escape(name.casefold())}(?:er)?(?![\w-])", text) is not None
