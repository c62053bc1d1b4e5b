"""TOML and JSON as files hold them: whatever the text is, one kind of error comes of it.

The libraries have errors of their own for what is no TOML or JSON; texts that nest too deeply, or
hold a number of thousands of digits, break them in other ways.
"""

from __future__ import annotations

import json
import tomllib
from typing import Any

from etl.errors import InputError

TOO_DEEP = "it nests too deeply"
TOO_LONG = "a number in it has too many digits"


def from_toml(text: str, name: str) -> dict[str, Any]:
    """Read TOML.

    Parameters
    ----------
    text : str
        Content of the file.
    name : str
        Its name, for messages.

    Raises
    ------
    InputError
        It cannot be read; why, and where that is known.

    Examples
    --------
    >>> from_toml("seed = 7", "settings.toml")
    {'seed': 7}
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as exc:
        fault = str(exc)
    except ValueError:
        fault = TOO_LONG
    except RecursionError:
        fault = TOO_DEEP
    raise InputError(f"{name}: not readable as TOML ({fault}). Correct the file.")


def from_json(text: str | bytes) -> Any:
    """Read JSON.

    Raises
    ------
    ValueError
        It cannot be read.
    """
    try:
        return json.loads(text)
    except RecursionError as exc:
        raise ValueError(TOO_DEEP) from exc
