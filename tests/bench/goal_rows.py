"""One line of the table of goals."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Goal:
    """A figure and the range wanted of it.

    Attributes
    ----------
    what : str
    figure : float
    at_most, at_least : float or None
        None on both sides: a figure without a goal.
    """

    what: str
    figure: float
    at_most: float | None = None
    at_least: float | None = None

    @property
    def is_met(self) -> bool | None:
        """Whether the figure lies in the range; None without a goal, NaN never does."""
        if self.at_most is None and self.at_least is None:
            return None
        low = float("-inf") if self.at_least is None else self.at_least
        high = float("inf") if self.at_most is None else self.at_most
        return low <= self.figure <= high

    @property
    def wanted(self) -> str:
        """The range in words."""
        if self.at_most is not None and self.at_least is not None:
            return f"{self.at_least:g} to {self.at_most:g}"
        if self.at_most is not None:
            return f"<= {self.at_most:g}"
        return "" if self.at_least is None else f">= {self.at_least:g}"
