"""Every threshold of the build, with its unit in its name and the reason beside it."""

from __future__ import annotations

import difflib
import tomllib
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from etl.errors import InputError


@dataclass(frozen=True)
class Settings:
    """Choices of a build. Defaults are ours; a store may override them in ``settings.toml``."""

    confidence: float = 0.90
    """Probability content of every printed range."""
    n_draws: int = 200
    """Joint draws a stratum; 200 keeps the Monte Carlo error of a 5 % bound below its digits."""
    seed: int = 20_260_101
    """Start of every random stream, so that the same logs give the same edition."""
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
    degraded_is_suspension: tuple[str, ...] = ()
    """Application classes whose hoses removed as degraded count as suspensions."""


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
        the wrong type.
    """
    if not path.is_file():
        return Settings()
    try:
        given = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as exc:
        raise InputError(f"{path.name}: not readable as TOML ({exc}). Correct the file.") from exc
    known = {field.name: getattr(Settings(), field.name) for field in fields(Settings)}
    return replace(Settings(), **{key: _typed(path, key, given[key], known) for key in given})


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
        return float(value)
    if type(value) is not type(default):
        kind = type(default).__name__
        raise InputError(f"{path.name}: {key} must be of type {kind}, got {value!r}.")
    return value
