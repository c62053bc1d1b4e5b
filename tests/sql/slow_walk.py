"""A second, slow way to match removals to installations: one service point, one event at a time.

It follows the rules in words, not the windows of the SQL: by tag first; a hose that was replaced
before its removal overlaps; then the rest in the order in which each day must have gone.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Event:
    """One installation or removal; `number` orders equal events by their content."""

    is_removal: bool
    day: int
    tag: str | None
    number: int


@dataclass
class Outcome:
    """Installation number -> removal number, -> day it was replaced; removal number -> why not."""

    removals: dict[int, int] = field(default_factory=dict)
    replaced: dict[int, int] = field(default_factory=dict)
    unpaired: dict[int, str] = field(default_factory=dict)


def alternate(installed: list[Event], removed: list[Event], is_occupied: bool) -> list[Event]:
    """Lay one day's events out in turn, a removal first where the place was occupied."""
    first, second = (removed, installed) if is_occupied else (installed, removed)
    laid = []
    for n in range(max(len(first), len(second))):
        laid += first[n:n + 1] + second[n:n + 1]
    return laid


def runs_of(mine: list[Event]) -> tuple[dict[int, list[Event]], dict[int, Event]]:
    """Return the removals that follow each installation of one tag, and the installations."""
    runs: dict[int, list[Event]] = {}
    openings: dict[int, Event] = {}
    is_occupied, current = False, None
    for day in sorted({event.day for event in mine}):
        today = sorted((e for e in mine if e.day == day), key=lambda e: e.number)
        went_in = [e for e in today if not e.is_removal]
        came_out = [e for e in today if e.is_removal]
        for event in alternate(went_in, came_out, is_occupied):
            if not event.is_removal:
                current = event
                openings[event.number] = event
                runs[event.number] = []
            elif current is not None:
                runs[current.number].append(event)
        if len(went_in) != len(came_out):
            is_occupied = len(went_in) > len(came_out)
    return runs, openings


def by_tag(events: list[Event]) -> tuple[dict[int, Event], set[int], dict[int, Event]]:
    """Return removal by installation number, overlapping removals, installation by number."""
    runs: dict[int, list[Event]] = {}
    openings: dict[int, Event] = {}
    for tag in sorted({event.tag for event in events if event.tag is not None}):
        mine, mine_openings = runs_of([event for event in events if event.tag == tag])
        runs |= mine
        openings |= mine_openings
    days_in = [event.day for event in events if not event.is_removal]
    pairs: dict[int, Event] = {}
    overlapping: set[int] = set()
    keepers = defaultdict(list)
    for number, run in runs.items():
        if not run:
            continue
        start, end = openings[number].day, run[0].day
        if any(start < day < end for day in days_in):
            overlapping |= {event.number for event in run}
            continue
        pairs[number] = run[0]
        if start < end:
            keepers[start].append((end, openings[number].tag or "", run[0].number, number))
    for same_day in keepers.values():
        for _, _, _, number in sorted(same_day)[:-1]:
            overlapping |= {event.number for event in runs[number]}
            del pairs[number]
    return pairs, overlapping, openings


def lay_out_day(today: list[Event], pairs: dict[int, Event], is_occupied: bool,
                within: set[int]) -> tuple[list[Event], bool]:
    """Return one day's events in order, and whether the place is occupied afterwards."""
    pair_of = {**{n: n for n in pairs}, **{r.number: n for n, r in pairs.items()}}
    numbers = {event.number for event in today}
    zero = [e for e in today if e.number in pair_of
            and {pair_of[e.number], pairs[pair_of[e.number]].number} <= numbers]
    zero.sort(key=lambda e: (e.tag or "", pair_of[e.number], e.is_removal))
    entrants = [e for e in today if e.number in pairs and e not in zero]
    leavers = [e for e in today if e.is_removal and e.number in pair_of and e not in zero]
    content = sorted((e for e in today if e.number not in pair_of),
                     key=lambda e: (e.tag is not None, e.tag or "", e.number))
    went_in = [e for e in content if not e.is_removal]
    came_out = [e for e in content if e.is_removal]
    if leavers:
        is_occupied = False
    head = came_out[:1] if is_occupied else []
    tail = alternate(went_in, came_out[len(head):], False)
    counted = len(went_in) - len([e for e in came_out if e.number not in within])
    if entrants:
        after = True
    elif leavers:
        after = counted > 0
    else:
        after = counted > 0 if counted else is_occupied
    return leavers + head + zero + tail + entrants, after


def match(events: list[Event]) -> Outcome:
    """Match the removals of one service point to its installations."""
    pairs, overlapping, openings = by_tag(events)
    out = Outcome(unpaired=dict.fromkeys(overlapping, "overlap"))
    rest = [e for e in events if e.number not in overlapping]
    within = {e.number for e in rest if e.is_removal and e.number not in
              {r.number for r in pairs.values()}
              and any(openings[n].day < e.day < r.day for n, r in pairs.items())}
    line: list[Event] = []
    is_occupied = False
    for day in sorted({event.day for event in rest}):
        today = [event for event in rest if event.day == day]
        laid, is_occupied = lay_out_day(today, pairs, is_occupied, within)
        line += laid
    walk_line(line, pairs, out)
    refuse_backwards(line, out)
    return out


def walk_line(line: list[Event], pairs: dict[int, Event], out: Outcome) -> None:
    """Go along the events; `current` is the hose that sits there by the logs."""
    taken = {removal.number for removal in pairs.values()}
    current: Event | None = None
    for event in line:
        if not event.is_removal:
            if current is not None:
                out.replaced[current.number] = event.day
            current = event
        elif event.number in taken:
            assert current is not None
            assert pairs[current.number] is event
            out.removals[current.number] = event.number
            current = None
        elif current is None:
            out.unpaired[event.number] = "removal without installation"
        elif current.tag is not None and event.tag is not None and current.tag != event.tag:
            out.unpaired[event.number] = "tag mismatch"
        elif current.number in pairs:
            out.unpaired[event.number] = "removal without installation"
        else:
            out.removals[current.number] = event.number
            current = None


def refuse_backwards(line: list[Event], out: Outcome) -> None:
    """A removal whose tag went in only later, and never came out, has its dates reversed."""
    for event in line:
        if event.number in out.unpaired and event.tag is not None:
            same = [e for e in line if not e.is_removal and e.tag == event.tag]
            if same and same[0].day > event.day and same[0].number not in out.removals:
                out.unpaired[event.number] = "removed before installed"
