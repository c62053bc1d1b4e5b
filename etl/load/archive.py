"""Keep every file that was ever loaded, by content, and a register of what came when.

``files/<sha256>.<ending>`` and ``mappings/<sha256>.toml`` hold the bytes; ``loads.jsonl`` holds
one line for each loading. A line is appended and flushed to disk in one write; a line that a
crash cut short is not counted and is overwritten by the next one.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import BeforeValidator, ConfigDict, Field, TypeAdapter

from etl.errors import InputError, StoreError
from etl.load.declared import Day
from etl.load.folders import find_logs, read_mapping
from etl.load.kept import digest, is_whole, keep, sync
from etl.load.mapping import Mapping, parse_mapping
from etl.load.quoting import as_text
from etl.load.recognise import recognise
from etl.load.store_faults import plain
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


@dataclass(frozen=True)
class Outcome:
    """What became of one file handed to `add`."""

    source_file: str
    status: str
    """``new``, ``already loaded``, ``mapping changed`` (read again under its number), or
    ``not readable``."""
    load_id: int
    message: str = ""
    """Why it was not readable."""


def add(store: Path, path: Path, loaded_on: dt.date | None = None) -> list[Outcome]:
    """Put a file, or every log file of a folder, into the archive.

    Parameters
    ----------
    store : Path
        Folder of the store; the caller holds its lock.
    path : Path
        A file, or a folder with its subfolders. The ``columns.toml`` beside a file, or in the
        nearest folder above it up to `path`, is its mapping.
    loaded_on : date or None
        Day to note for new files; None takes the present day.

    Returns
    -------
    list of Outcome
        One for each file, in the order of their names.

    Raises
    ------
    InputError
        There is nothing to load, or a mapping file cannot be used. Nothing was added then.
    """
    loaded_on = loaded_on or dt.date.today()
    files = find_logs(path)
    known = {item.sha256: item for item in registered(store)}
    return [_add_file(store, file, mapping, known, loaded_on) for file, mapping in files]


def everything(store: Path) -> list[Outcome]:
    """Return every file of the archive as loaded before, to build again from what is there.

    Raises
    ------
    InputError
        The archive is empty.
    """
    found = [Outcome(item.source_file, "already loaded", item.load_id)
             for item in registered(store)]
    if not found:
        raise InputError("the store holds no logs yet. Load some with `braidlife load PATH`.")
    return found


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
    found: dict[int, Registered] = {}
    for number, line in enumerate(_register_lines(store), start=1):
        if not line.strip():
            continue
        item = _item(line)
        if item is None or found.get(item.load_id, item).sha256 != item.sha256:
            raise StoreError(
                f"{REGISTER} line {number}: damaged. Put this file back from a backup, or delete"
                " the line and load the file that it stood for again."
            )
        found[item.load_id] = item
    return [found[load_id] for load_id in sorted(found)]


def archived(store: Path, item: Registered) -> Path:
    """Return the archived copy of a file.

    Raises
    ------
    StoreError
        The copy is gone, or its content is not what was registered.
    """
    path = store / "files" / item.file_name
    _check_bytes(path, item.sha256, item, "copy")
    return path


def mapping_of(store: Path, item: Registered) -> Mapping | None:
    """Return the mapping that a file is read by, or None.

    Raises
    ------
    StoreError
        The archived mapping is gone or altered.
    """
    if item.mapping_sha256 is None:
        return None
    path = _mapping_file(store, item.mapping_sha256)
    _check_bytes(path, item.mapping_sha256, item, "mapping")
    return parse_mapping(path.read_text(encoding="utf-8-sig"))


def _mapping_file(store: Path, sha256: str) -> Path:
    return store / "mappings" / f"{sha256}.toml"


def _check_bytes(path: Path, sha256: str, item: Registered, what: str) -> None:
    """Stop where an archived file does not hold the bytes that its name promises."""
    if is_whole(path, sha256):
        return
    fault = "was altered" if path.is_file() else "is gone"
    raise StoreError(
        f"{item.source_file} (load {item.load_id}): its archived {what} {fault}. Load the original"
        " file again, or put the store back from a backup."
    )


def reporting_currency(store: Path) -> str | None:
    """Return the currency that the mappings in use declare, or None.

    Raises
    ------
    InputError
        Two mappings declare different currencies.
    """
    found: dict[str, str] = {}
    for item in registered(store):
        mapping = mapping_of(store, item)
        if mapping is not None and mapping.currency is not None:
            found.setdefault(mapping.currency, item.source_file)
    if len(found) > 1:
        names = ", ".join(f"{code} ({file})" for code, file in found.items())
        raise InputError(
            f"columns.toml: currency must be one for the whole store, found {names}. Make one of"
            " them the currency of its [[file]] entries, with its rate in [rates]."
        )
    return next(iter(found), None)


def _add_file(store: Path, file: Path, mapping: Path | None, known: dict[str, Registered],
              loaded_on: dt.date) -> Outcome:
    """Archive one file and note it, unless the register has it with the same mapping."""
    shown = as_text(file.name)
    try:
        sha256 = digest(file)
        mapping_sha256 = digest(mapping) if mapping else None
    except OSError as exc:
        return Outcome(shown, "not readable", 0,
                       f"{shown}: not readable ({plain(exc)}). Give this user the right to"
                       " read it, and load it again.")
    before = known.get(sha256)
    if before is None:
        load_id = 1 + max((item.load_id for item in known.values()), default=0)
        item = Registered(load_id, shown, sha256, file.stat().st_size, mapping_sha256,
                          loaded_on)
    elif _is_changed(store, before, shown, mapping, mapping_sha256):
        name = before.source_file
        if Path(name).suffix.lower() == file.suffix.lower():
            name = shown
        item = dataclasses.replace(before, source_file=name, mapping_sha256=mapping_sha256)
    else:
        item = before
    keep(file, store / "files" / item.file_name, sha256)
    if mapping is not None and mapping_sha256 is not None:
        keep(mapping, _mapping_file(store, mapping_sha256), mapping_sha256)
    if item == before:
        return Outcome(shown, "already loaded", item.load_id)
    _append(store, item)
    known[sha256] = item
    return Outcome(shown, "new" if before is None else "mapping changed", item.load_id)


def _is_changed(store: Path, before: Registered, name: str, mapping: Path | None,
                mapping_sha256: str | None) -> bool:
    """Say whether a known file is to be read in another way than before.

    A copy under another name counts only if the old name said nothing and the new one does: a
    file must not change its log because someone made a copy of it.
    """
    if name == before.source_file:
        return mapping_sha256 != before.mapping_sha256
    try:
        recognise(before.source_file, mapping_of(store, before))
    except InputError:
        try:
            return bool(recognise(name, read_mapping(mapping) if mapping else None))
        except InputError:
            return False
    return False


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


def _append(store: Path, item: Registered) -> None:
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
