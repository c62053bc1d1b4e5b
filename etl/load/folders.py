"""Find the log files of a folder, and the mapping that each of them is read by."""

from __future__ import annotations

from pathlib import Path

from etl.errors import InputError
from etl.load.mapping import Mapping, parse_mapping
from etl.load.quoting import as_text
from etl.load.readers import SUFFIXES
from etl.load.recognise import recognise

MAPPING = "columns.toml"


def find_logs(path: Path) -> list[tuple[Path, Path | None]]:
    """Return the log files under a path, each with its mapping file.

    Parameters
    ----------
    path : Path
        A file, or a folder with its subfolders.

    Returns
    -------
    list of (Path, Path or None)
        In the order of their names within the folder. The ``columns.toml`` beside a file, or in
        the nearest folder above it up to `path`, is its mapping.

    Raises
    ------
    InputError
        There is no log file, or a mapping file cannot be used.
    """
    files = _candidates(path)
    mappings = {file: _mapping_above(file, path) for file in files}
    parsed = {found: read_mapping(found)
              for found in sorted(set(filter(None, mappings.values())))}
    logs = [(file, found) for file, found in mappings.items()
            if file == path or _is_log(file, parsed[found] if found else None)]
    if not logs:
        raise InputError(
            f"{as_text(path.name)}: no log files found. They end in .csv, .tsv, .xlsx, .xls or"
            " .parquet; a .txt file counts where its name begins with a log's name or columns.toml"
            " names it."
        )
    return logs


def _candidates(path: Path) -> list[Path]:
    """Return the files that may be logs, in the order of their names within the folder."""
    if path.is_file():
        return [path]
    if not path.is_dir():
        raise InputError(f"{as_text(path.name)}: no such file or folder. Check the spelling.")
    found = [file for file in path.rglob("*")
             if file.is_file() and file.suffix.lower() in SUFFIXES
             and not any(part.startswith((".", "~$")) for part in file.relative_to(path).parts)]
    return sorted(found, key=lambda file: file.relative_to(path).as_posix())


def _mapping_above(file: Path, top: Path) -> Path | None:
    """Return the mapping beside a file or in the nearest folder above it, down from `top`."""
    folder = file.parent
    while True:
        if (folder / MAPPING).is_file():
            return folder / MAPPING
        if folder == top or top not in folder.parents:
            return None
        folder = folder.parent


def read_mapping(path: Path) -> Mapping:
    """Read a mapping file from disk; InputError where it cannot be used."""
    try:
        return parse_mapping(path.read_text(encoding="utf-8-sig"), path.name)
    except UnicodeDecodeError as exc:
        raise InputError(f"{path.name}: not UTF-8 text. Save it as UTF-8.") from exc


def _is_log(file: Path, mapping: Mapping | None) -> bool:
    """Take a plain text file for a log only where its name or the mapping says so."""
    if file.suffix.lower() != ".txt":
        return True
    try:
        return bool(recognise(as_text(file.name), mapping))
    except InputError:
        return False
