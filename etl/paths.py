"""Where packaged data lies, in a clone and in an installed wheel alike."""

from __future__ import annotations

from pathlib import Path

from etl.errors import InputError

HERE = Path(__file__).resolve().parent


def resource(name: str) -> Path:
    """Return the folder of packaged data called `name`.

    Parameters
    ----------
    name : str
        ``"sql"`` or ``"demo_fleet"``.

    Returns
    -------
    Path
        The copy inside the installed package where there is one, else the folder of the clone.

    Raises
    ------
    InputError
        Neither place holds the folder: the installation is incomplete.
    """
    packed = HERE / f"_{name}"
    folder = packed if packed.is_dir() else HERE.parent / name
    if not folder.is_dir():
        raise InputError(f"resource {name!r}: not part of this installation. Install again.")
    return folder
