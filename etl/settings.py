"""Every threshold of the build, with its unit in its name and the reason beside it."""

from __future__ import annotations

import contextlib
import datetime as dt
import difflib
import math
import re
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from etl.errors import InputError
from etl.parsed import from_toml


@dataclass(frozen=True)
class Settings:
    """Choices of a build. Defaults are ours; a store may override them in ``settings.toml``."""

    confidence: float = 0.90
    """Probability content of every printed range."""
    n_draws: int = 200
    """Joint draws a stratum; 200 keeps the Monte Carlo error of a 5 % bound below its digits."""
    seed: int = 20_260_101
    """Start of every random stream, so that the same logs give the same edition."""
    rows_kept_from: int = 500_000
    """Installations and removals from which rows and stays are kept beside the editions, so that
    a later load builds only the service points anew that it touches (our choice: below, a whole
    build costs few seconds)."""
    editions_kept: int = 12
    """A year of monthly editions, for "what changed"."""
    flag_false_share: float = 0.20
    """Share of flagged places that may be false alarms."""
    few_failures: int = 5
    """Below this many failures an estimate is marked as resting on few."""
    early_failure_days: int = 90
    """A hose lost before this age points to fitting or supply (common practice, no source)."""
    service_level_ordinary: float = 0.90
    """Chance of no shortage for an ordinary part (common practice, no source)."""
    service_level_costly: float = 0.95
    """The same where an hour of downtime is costly."""
    service_level_hazardous: float = 0.99
    """The same where a leak can hurt someone."""
    costly_downtime_per_hour: float = 500.0
    """Reporting currency; from here on the costly service level holds."""
    review_days: int = 30
    """Time between two orders."""
    lead_time_spread: float = 0.35
    """Standard deviation over mean of a lead time whose spread is not recorded."""
    lead_time_days_if_unknown: float = 60.0
    """Lead time of a part without one in the parts log; said so beside the figure."""
    trial_failures_wanted: int = 10
    """Failures after which a side-by-side trial starts to tell (about one in six right by 6)."""
    trial_right_choice: float = 0.90
    """Chance of choosing the longer-lived arm that a plan is sized for, lives 20 % apart or more
    (our choice)."""
    trial_horizon_months: float = 60.0
    """For so long the answer of a trial is taken to hold (common practice, no source)."""
    trial_within_pair_concentration: float = 12.0
    """Gamma concentration of what still differs between the two places of a pair: a factor of
    about 1.6 either way at 90 % (our choice; smaller is more cautious)."""
    trial_records_doubt_log_sd: float = 0.25
    """Doubt about a life ratio read from records, on the log scale: kinds of hose stood at unlike
    places, so records may be off by a factor of 1.5 either way (our choice)."""
    degraded_is_suspension: tuple[str, ...] = ()
    """Application classes whose hoses removed as degraded count as suspensions."""
    required_interval_days: tuple[str, ...] = ()
    """Greatest age of a hose by the site's rules, as "toxic: 730": a hazard or an application
    class, and days. None unless a site states its own; local codes decide, not a default."""
    shutdowns: tuple[str, ...] = ()
    """Days on which planned work can be done, as "2026-12-14 to 2026-12-18", or for one site
    "Alderbeck: 2026-12-14 to 2026-12-18". Without any, work falls due in any month."""
    preventive_chance: float = 0.90
    """Chance of a saving from which on a preventive age is advised."""
    preventive_least_share: float = 0.02
    """Saving over yearly cost below which planning is not worth its paper (our choice)."""

    vibration_least_places: int = 10
    """Measured places below which no life is told over vibration (our choice) ..."""
    vibration_least_failures: int = 20
    """... and failures by vibration there: fewer cannot tell an exponent from its prior."""

    lives_for_second_process: int = 20_000
    """Lives from which on part of the statistics runs in a second process; below, starting one
    takes longer than it saves."""
    database_memory_mb: int = 0
    """Memory that the database of a load may fill before it writes to the disk of the store; 0
    takes half of what is free, since the statistics of the same load need the rest."""

    entries_from_pages: bool = True
    """Findings, inspections and corrections can be entered in the pages, on this machine only as
    long as there are no accounts; false for a store that is only read."""

    proxy_address: str = ""
    """Address of the one server that may say for others where they come from; empty: none."""
    proxy_user_header: str = ""
    """Header in which that server names who has signed in with it; empty: nobody is believed."""

    track_months: int = 24
    """Month ends that the track record looks back to: two years hold every season twice."""
    track_draws: int = 20
    """Joint draws behind a forecast of an earlier month; a tenth of an edition's, for speed:
    chance, not the draws, makes most of the range of a count."""
    track_loaded_within_days: int = 10
    """Days after the end of a month by which its logs are loaded (our choice): what came within
    them counts as known when that month's forecast was made."""

    def required_intervals(self) -> dict[str, float]:
        """Return the greatest age in days by hazard or application class.

        Raises
        ------
        InputError
            An entry is no name and a positive number of days.
        """
        return dict(_interval(text) for text in self.required_interval_days)

    def shutdown_windows(self) -> tuple[Shutdown, ...]:
        """Return the shutdowns in order of their first day.

        Raises
        ------
        InputError
            An entry is no pair of days in order.
        """
        found = [_shutdown(text) for text in self.shutdowns]
        return tuple(sorted(found, key=lambda item: (item.first, item.last, item.site)))


@dataclass(frozen=True)
class Shutdown:
    """A span of days on which planned work can be done; an empty site means all sites."""

    site: str
    first: dt.date
    last: dt.date


SHUTDOWN = re.compile(r"(?:(.*):\s*)?(\d{4}-\d\d-\d\d)\s+to\s+(\d{4}-\d\d-\d\d)")


def _shutdown(text: str) -> Shutdown:
    """Read one shutdown."""
    try:
        if found := SHUTDOWN.fullmatch(text.strip()):
            first, last = (dt.date.fromisoformat(day) for day in found.groups()[1:])
            if first <= last:
                return Shutdown((found[1] or "").strip(), first, last)
    except ValueError:
        pass  # a day that no calendar has: said below
    raise InputError(
        f"settings: shutdowns must read like '2026-12-14 to 2026-12-18', or with a site before "
        f"it and a colon, the first day not after the last; got {text!r}. Correct the entry."
    )


def _interval(text: str) -> tuple[str, float]:
    """Read one required interval."""
    name, _, days = (part.strip() for part in text.rpartition(":"))
    try:
        value = float(days)
    except ValueError:
        value = math.nan
    if not name or not 0.0 < value < math.inf:
        raise InputError(
            f"settings: required_interval_days must read like 'toxic: 730', a hazard or an "
            f"application class and a number of days above 0; got {text!r}. Correct the entry."
        )
    return name, value


SHARES = frozenset({
    "confidence", "flag_false_share", "service_level_ordinary", "service_level_costly",
    "service_level_hazardous", "trial_right_choice", "preventive_chance",
    "preventive_least_share"})
DRAWS = frozenset({"n_draws", "track_draws"})
AT_LEAST_ONE = DRAWS | {"trial_failures_wanted", "trial_horizon_months", "review_days"}
MOST_DRAWS = 100_000
"""More joint draws fill the memory of a machine."""
MOST = 1_000_000_000_000
"""Of any other number: far above all that makes sense, in currencies of small worth, too."""


def read_settings(path: Path) -> Settings:
    """Read the settings of a store.

    Parameters
    ----------
    path : Path
        A TOML file; a missing file means defaults.

    Returns
    -------
    Settings

    Raises
    ------
    InputError
        The file is not TOML, a key is unknown (the nearest known one is named), or a value has
        the wrong type or form.
    """
    try:
        given = from_toml(path.read_text(encoding="utf-8"), path.name)
    except (FileNotFoundError, NotADirectoryError):
        return Settings()
    except OSError as exc:
        raise InputError(f"{path.name}: cannot be read ({exc.strerror}). Give the right to read "
                         "it, or put it right.") from exc
    except UnicodeDecodeError as exc:
        raise InputError(f"{path.name}: not readable as TOML ({exc}). Correct the file.") from exc
    known = {field.name: getattr(Settings(), field.name) for field in fields(Settings)}
    found = replace(Settings(), **{key: _checked(path, key, _typed(path, key, given[key], known))
                                   for key in given})
    found.required_intervals()  # read here so that a fault is said now, not after minutes of work
    found.shutdown_windows()
    return found


def _typed(path: Path, key: str, value: Any, known: dict[str, Any]) -> Any:
    """Return the value in the type of its default, or say what is wrong with it."""
    if key not in known:
        near = difflib.get_close_matches(key, known, 1)
        hint = f" Did you mean {near[0]!r}?" if near else f" Known keys: {', '.join(known)}."
        raise InputError(f"{path.name}: unknown key {key!r}.{hint}")
    default = known[key]
    if isinstance(default, tuple) and isinstance(value, list):
        return tuple(str(item) for item in value)
    if isinstance(default, float) and isinstance(value, int) and not isinstance(value, bool):
        with contextlib.suppress(OverflowError):  # a number of hundreds of digits is no float
            return float(value)
    if type(value) is not type(default):
        kind = type(default).__name__
        raise InputError(f"{path.name}: {key} must be of type {kind}, got {value!r}.")
    return value


def _checked(path: Path, key: str, value: Any) -> Any:
    """Return a number that a build can work with, or say within which bounds it has to lie."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return value
    if key in SHARES:
        if not 0.0 < value < 1.0:
            raise InputError(f"{path.name}: {key} must lie between 0 and 1, got {value!r}. Write "
                             "90 % as 0.90.")
        return value
    least = 1 if key in AT_LEAST_ONE else 0
    most = MOST_DRAWS if key in DRAWS else MOST
    if not least <= value <= most:
        raise InputError(f"{path.name}: {key} must be from {least} to {most:,}, got {value!r}. "
                         "Correct the line.")
    return value
