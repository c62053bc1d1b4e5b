"""One record of a teardown as a page sees it: which screens there are, and which comes next."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from urllib.parse import quote

from dash import dcc

from dashboard import actions, parts
from dashboard.queries import record as asked
from dashboard.queries.edition import Row
from dashboard.words.record import BEGIN, BY_KEY, CONCLUDE, MAKE_SAFE, STEPS, Step

UNTAGGED = "untagged"
"""Stands in an address for a hose without a tag, which place and day of removal name."""
LOOK = "look "
"""Before the name of a finding: the screen that asks for it."""


@dataclass(frozen=True)
class View:
    """What a page knows of a record.

    Attributes
    ----------
    stay : row
        The stay of the hose that is taken apart.
    record : Record
        What was entered so far.
    published : mapping of str to str
        What the edition knows of the hose, finding to state.
    findings : mapping of str to row
        What may be looked for.
    """

    stay: Row
    record: actions.Record
    published: Mapping[str, str]
    findings: Mapping[str, Row]

    @property
    def hose(self) -> actions.Hose:
        """The hose by what the log names it."""
        return hose_of(self.stay)

    @cached_property
    def found(self) -> dict[str, str]:
        """State of every finding that was checked: as published, unless this record says else."""
        here = {name: state for name, state in self.record.answers.items()
                if state != "not checked"}
        return {name: state for name, state in self.published.items()
                if name not in self.record.touched} | here

    @cached_property
    def screens(self) -> list[str]:
        """Every screen in the order of a careful teardown."""
        out: list[str] = []
        for step in STEPS:
            out.append(step.key)
            out += [LOOK + name for name in self.of_step(step)]
        return out

    def of_step(self, step: Step) -> list[str]:
        """Return the findings that a step asks for."""
        return [name for name, row in self.findings.items()
                if step.has_findings and row["looked_at"] == step.key]

    def step_of(self, screen: str) -> Step:
        """Return the step that a screen belongs to."""
        if screen.startswith(LOOK):
            return BY_KEY[self.findings[screen.removeprefix(LOOK)]["looked_at"]]
        return BY_KEY[screen]

    def allowed(self, screen: str, is_begun: bool = False) -> str:
        """Return a screen that may be shown: nothing is asked before the hose was made safe.

        Parameters
        ----------
        screen : str
            The one asked for.
        is_begun : bool
            Whether whoever examines gave name and day, though nothing was saved yet.
        """
        if self.record.is_closed:
            return CONCLUDE
        if screen not in self.screens:
            screen = BEGIN
        first = MAKE_SAFE if is_begun or self.record.examined_on else BEGIN
        return screen if self.record.permit is not None or screen in (BEGIN, MAKE_SAFE) else first

    def after(self, screen: str) -> str:
        """Return the next screen whose question is open."""
        at = self.screens.index(screen) if screen in self.screens else -1
        for candidate in self.screens[at + 1:]:
            if candidate.removeprefix(LOOK) not in self.record.answers:
                return candidate
        return CONCLUDE

    def before(self, screen: str) -> str | None:
        """Return the screen before, whether or not it is answered."""
        at = self.screens.index(screen)
        return self.screens[at - 1] if at else None

    def resumed(self) -> str:
        """Return where the record goes on."""
        if not self.record.n_entries:
            return BEGIN
        return self.allowed(self.after(self.record.last_screen or MAKE_SAFE))


def hose_of(stay: Row) -> actions.Hose:
    """Return a hose by what the log names it."""
    removed = stay["removed_on"]
    return actions.Hose(stay["hose_id"] or "", stay["service_point"] or "",
                        removed.isoformat() if removed else "")


def view_of(stay: Row) -> View:
    """Return the record of a hose as it stands now."""
    findings = {row["finding"]: row for row in asked.findings()}
    return View(stay, actions.record(hose_of(stay)), asked.found(stay), findings)


def stay_named(hose: object, place: object, removed: object) -> Row | None:
    """Return the stay that an address or a page names; None where there is none."""
    try:
        day = dt.date.fromisoformat(str(removed)) if removed else None
    except ValueError:
        return None
    named = str(hose) if hose else None
    if named is None and not (place and day):
        return None
    return asked.life(named, str(place) if place else None, day)


def stay_at(name: str, place: object, removed: object) -> Row | None:
    """Return the stay that the address of a record names; None where there is none."""
    return stay_named(None if name == UNTAGGED and place else name, place, removed)


def is_hose(name: str, given: Mapping[str, str]) -> bool:
    """Tell whether the address of a record names a hose."""
    return stay_at(name, given.get("place"), given.get("removed")) is not None


def record_link(
    text: str, hose: str | None, place: str | None, removed: dt.date | None
) -> dcc.Link:
    """Return the link to the record of a hose."""
    return parts.link(text, f"/teardown/{quote(hose or UNTAGGED, safe='')}", place=place,
                      removed=removed.isoformat() if removed else None)
