"""Whether a store takes entries from the pages at all."""

from __future__ import annotations

from pathlib import Path

from etl.settings import read_settings


def takes_entries(store: Path) -> bool:
    """Return what the settings of a store say about entries from the pages.

    Raises
    ------
    InputError
        The settings cannot be read.
    """
    return read_settings(store / "settings.toml").entries_from_pages
