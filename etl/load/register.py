"""The register of the archive: one line for each loading, saying what came when.

A line is appended and flushed to disk in one write; a line that a crash cut short is not counted
and is overwritten by the next one.
"""

from __future__ import annotations

import dataclasses
import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import BeforeValidator, ConfigDict, Field, TypeAdapter

from etl.errors import StoreError
from etl.load.declared import Day
from etl.load.kept import sync
from etl.load.publish import POINTER
from etl.load.quoting import as_text
from etl.parsed import from_json

REGISTER = "loads.jsonl"


def _as_name(name: object) -> object:
    """Return what is shown of the name of a file, also of one noted before names were that."""
    return as_text(name) if isinstance(name, str) else name


Hash = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
Number = Annotated[int, Field(strict=True, ge=0)]


@dataclass(frozen=True)
class Registered:
    """One file in the archive, with the mapping it is read by."""

    __pydantic_config__ = ConfigDict(extra="forbid")

    load_id: Annotated[Number, Field(ge=1)]
    source_file: Annotated[str, BeforeValidator(_as_name), Field(pattern=r"^[^/]+$")]
    sha256: Hash
    size_bytes: Number
    mapping_sha256: Hash | None
    loaded_on: Day

    @property
    def file_name(self) -> str:
        """Name of the archived copy."""
        return self.sha256 + Path(self.source_file).suffix.lower()


LINE = TypeAdapter(Registered)


def registered(store: Path) -> list[Registered]:
    """Return the files of the archive in the order in which they were first loaded.

    Parameters
    ----------
    store : Path

    Returns
    -------
    list of Registered
        For each file its latest mapping and the day of its first loading.

    Raises
    ------
    StoreError
        A line of the register is damaged.
    """
    found = {item.load_id: item for item in every_line(store)}
    return [found[load_id] for load_id in sorted(found)]


def every_line(store: Path) -> list[Registered]:
    """Return what every line says, those of earlier mappings included; raises as `registered`."""
    found: list[Registered] = []
    first: dict[int, str] = {}
    for number, line in enumerate(_register_lines(store), start=1):
        if not line.strip():
            continue
        item = _item(line)
        if item is None or first.setdefault(item.load_id, item.sha256) != item.sha256:
            raise StoreError(
                f"{REGISTER} line {number}: damaged. Put this file back from a backup, or delete"
                " the line and load the file that it stood for again."
            )
        found.append(item)
    return found


def check_register(store: Path) -> None:
    """Stop where an edition was published and the register of its files is gone.

    A new file would be taken for the first one, and an edition made of it alone.

    Raises
    ------
    StoreError
        The register has no line although the store holds an edition.
    """
    if (store / POINTER).is_file() and not registered(store):
        raise StoreError(
            f"{REGISTER}: gone or empty, although logs were loaded before. Put this file back from"
            " a backup; without one, load all logs again into another store with --store."
        )


def _register_lines(store: Path) -> list[bytes]:
    """Return the lines of the register; blank ones are what an editor left.

    A last line without its end was cut short by a crash, unless it is whole: its brace came last.
    """
    path = store / REGISTER
    if not path.is_file():
        return []
    *lines, last = path.read_bytes().split(b"\n")
    return [*lines, last] if _item(last) else lines


def _item(line: bytes) -> Registered | None:
    """Read a line of the register; None where it is damaged."""
    try:
        return LINE.validate_python(from_json(line))
    except ValueError:  # no JSON, or not what a line holds
        return None


def append_line(store: Path, item: Registered) -> None:
    """Append a line to the register and flush it to disk; a torn line before it is cut off."""
    line = json.dumps({**dataclasses.asdict(item), "loaded_on": item.loaded_on.isoformat()})
    store.mkdir(parents=True, exist_ok=True)
    with (store / REGISTER).open("a+b") as file:
        file.seek(0)
        content = file.read()
        whole = content.rfind(b"\n") + 1
        is_last_whole = _item(content[whole:]) is not None
        if not is_last_whole:
            file.truncate(whole)
        file.write(b"\n" * is_last_whole + line.encode("utf-8") + b"\n")
        file.flush()
        os.fsync(file.fileno())
    sync(store)
