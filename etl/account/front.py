"""The server that stands before the pages, where the settings of a store name one."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from etl.account.limits import plain_address
from etl.errors import InputError
from etl.settings import read_settings


@dataclass(frozen=True)
class Front:
    """Address of that server, and the header in which it says who has signed in with it.

    Either is empty where there is none; without an address no header is believed. Of what it says
    in X-Forwarded-For the last address counts, which it puts there itself.
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
    path = store / "settings.toml"
    try:
        about = path.stat()
    except FileNotFoundError:
        return Front()
    except OSError as exc:
        raise InputError(f"{path.name}: cannot be looked at ({exc.strerror}). Give the right to "
                         "read the store.") from exc
    return _front(path, about.st_mtime_ns, about.st_size, about.st_ino)


@lru_cache(maxsize=64)
def _front(path: Path, *_: int) -> Front:
    """Read the settings once as long as their file stays as it is: every request asks."""
    settings = read_settings(path)
    return Front(plain_address(settings.proxy_address),
                 settings.proxy_user_header if settings.proxy_address else "")
