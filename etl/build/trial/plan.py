"""The plan of one trial, and whether it is worth it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from etl.build.trial.arms import Arms
from etl.build.trial.pools import Pool
from etl.counted import counted
from etl.decide.trial.design import LEAST_CHANCE, Claims, Sizes, planned_failures
from etl.decide.trial.value import TrialValue
from etl.decide.words import percent

WORTH, SWITCH, TOLD, NOT_WORTH, TOO_FEW = VERDICTS = (
    "worth a trial", "switch without a trial", "told by the records", "not worth a trial",
    "too few failures to learn")


@dataclass(frozen=True)
class Size:
    """A size and what it would tell.

    Attributes
    ----------
    found : Sizes
        Of all sizes.
    claims : Claims
    n_pairs, months : int
    """

    found: Sizes
    claims: Claims
    n_pairs: int
    months: int

    @property
    def right_choice(self) -> float:
        """Chance of a right choice."""
        return float(self.found.right_choice[self.n_pairs - 1, self._at])

    @property
    def failures(self) -> float:
        """Failures expected in the trial."""
        return float(self.found.failures[self.n_pairs - 1, self._at])

    @property
    def planned_failures(self) -> float:
        """Failures at which the whole error is spent."""
        return planned_failures(self.found, self.n_pairs, self._at)

    @property
    def _at(self) -> int:
        return int(np.flatnonzero(self.found.months == self.months)[0])


@dataclass(frozen=True)
class Plan:
    """The plan of one trial.

    Attributes
    ----------
    pool : Pool
    arms : Arms
    size : Size or None
        None where nothing is left to learn.
    value : TrialValue
        In reporting currency, or in failures where no cost is known.
    is_costed : bool
    early_limit : float
        Chance of an early failure that an arm may have.
    verdict, why : str
        One of `VERDICTS`, and its reason.
    """

    pool: Pool
    arms: Arms
    size: Size | None
    value: TrialValue
    is_costed: bool
    early_limit: float
    verdict: str
    why: str

    @property
    def offered(self) -> Size | None:
        """The size offered: something is left to learn, and it can be learned."""
        return self.size if self.verdict in (WORTH, NOT_WORTH) else None

    @property
    def at_stake(self) -> float:
        """What a trial, or a switch without one, would bring."""
        return max(float(self.value.score), float(self.value.without))


def verdict_before(
    pool: Pool, arms: Arms, adopted: str | None, wanted: float
) -> tuple[str, str] | None:
    """Say whether trials or records have told already; None where something is left to learn.

    Parameters
    ----------
    pool : Pool
    arms : Arms
    adopted : str or None
        Construction that a trial in this class has adopted.
    wanted : float
        Chance of a right choice asked of a trial.
    """
    if adopted is not None and adopted != arms.base:
        return SWITCH, f"{adopted} was adopted for this class after a trial"
    told = arms.told_probability
    if told >= wanted:
        longer = pool.arms.stiff if arms.prior.log_life_ratio > 0.0 else pool.arms.flexible
        return TOLD, (f"{longer} lasts longer than the other arm with {percent(told)} chance by "
                      f"the records alone, where a trial is asked for {percent(wanted)}")
    return None


def verdict_on(arms: Arms, size: Size, value: TrialValue) -> tuple[str, str]:
    """Say whether a trial of a size is worth it, and why."""
    if size.right_choice < LEAST_CHANCE:
        return TOO_FEW, (f"{counted(size.n_pairs, 'pair')} over {counted(size.months, 'month')}: "
                         f"the right choice has {percent(size.right_choice)} chance only")
    if value.score > 0.0:
        return WORTH, "the choice would be better by more than the trial costs"
    if value.without > 0.0:
        return SWITCH, (f"{arms.other} is likely enough to last longer than {arms.base} that "
                        "waiting for a trial costs more than it tells")
    return NOT_WORTH, (f"{arms.other} would have to last longer than {arms.base} by more than is "
                       "likely before a change pays for the trial")
