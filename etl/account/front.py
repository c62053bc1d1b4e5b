"""The server that stands before the pages, where the settings of a store name one."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from etl.settings import read_settings


@dataclass(frozen=True)
class Front:
    """Address of that server, and the header in which it says who has signed in with it.

    Either is empty where there is none; without an address no header is believed.
    """

    address: str = ""
    user_header: str = ""


def front(store: Path) -> Front:
    """Return what the settings of a store say.

    Raises
    ------
    InputError
        The settings cannot be read.
    """
    settings = read_settings(store / "settings.toml")
    return Front(settings.proxy_address, settings.proxy_user_header if settings.proxy_address
                 else "")
