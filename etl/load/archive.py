"""Keep every file that was ever loaded, by content, and a register of what came when.

``files/<sha256>.<ending>`` and ``mappings/<sha256>.toml`` hold the bytes; ``loads.jsonl`` holds
one line for each loading. A line is appended and flushed to disk in one write; a line that a
crash cut short is not counted and is overwritten by the next one.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
import json
import os
from dataclasses import dataclass
from pathlib import Path

from etl.errors import InputError, StoreError
from etl.load.folders import find_logs, read_mapping
from etl.load.mapping import Mapping, parse_mapping
from etl.load.recognise import recognise

REGISTER = "loads.jsonl"
BLOCK = 1 << 20


@dataclass(frozen=True)
class Registered:
    """One file in the archive, with the mapping it is read by."""

    load_id: int
    source_file: str
    sha256: str
    size_bytes: int
    mapping_sha256: str | None
    loaded_on: dt.date

    @property
    def file_name(self) -> str:
        """Name of the archived copy."""
        return self.sha256 + Path(self.source_file).suffix.lower()


@dataclass(frozen=True)
class Outcome:
    """What became of one file handed to `add`."""

    source_file: str
    status: str
    """``new``, ``already loaded``, or ``mapping changed`` (read again under its number)."""
    load_id: int


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
        try:
            fields = json.loads(line)
            fields["loaded_on"] = dt.date.fromisoformat(fields["loaded_on"])
            item = Registered(**fields)
        except (ValueError, TypeError, KeyError) as exc:
            raise StoreError(
                f"{REGISTER} line {number}: damaged. Put the store back from a backup."
            ) from exc
        found[item.load_id] = item
    return [found[load_id] for load_id in sorted(found)]


def archived(store: Path, item: Registered) -> Path:
    """Return the archived copy of a file.

    Raises
    ------
    StoreError
        The copy is gone or has another size than was registered.
    """
    path = store / "files" / item.file_name
    size = path.stat().st_size if path.is_file() else -1
    if size != item.size_bytes:
        raise StoreError(
            f"{item.source_file} (load {item.load_id}): its archived copy has {max(size, 0)} bytes,"
            f" {item.size_bytes} were stored. Put the store back from a backup."
        )
    return path


def mapping_of(store: Path, item: Registered) -> Mapping | None:
    """Return the mapping that a file is read by, or None."""
    if item.mapping_sha256 is None:
        return None
    path = store / "mappings" / f"{item.mapping_sha256}.toml"
    try:
        return parse_mapping(path.read_text(encoding="utf-8"))
    except FileNotFoundError as exc:
        raise StoreError(
            f"{item.source_file} (load {item.load_id}): its archived mapping is gone. Put the store"
            " back from a backup."
        ) from exc


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
            f"columns.toml: currency must be one for the whole store, found {names}. Convert the"
            " amounts of one of them and correct its mapping."
        )
    return next(iter(found), None)


def _add_file(store: Path, file: Path, mapping: Path | None, known: dict[str, Registered],
              loaded_on: dt.date) -> Outcome:
    """Archive one file and note it, unless the register has it with the same mapping."""
    sha256 = digest(file)
    mapping_sha256 = digest(mapping) if mapping else None
    before = known.get(sha256)
    if before is not None and not _is_changed(store, before, file.name, mapping, mapping_sha256):
        return Outcome(file.name, "already loaded", before.load_id)
    if before is None:
        load_id = 1 + max((item.load_id for item in known.values()), default=0)
        item = Registered(load_id, file.name, sha256, file.stat().st_size, mapping_sha256,
                          loaded_on)
        _store_bytes(file, store / "files" / item.file_name)
    else:
        name = before.source_file
        if Path(name).suffix.lower() == file.suffix.lower():
            name = file.name
        item = dataclasses.replace(before, source_file=name, mapping_sha256=mapping_sha256)
    if mapping is not None:
        _store_bytes(mapping, store / "mappings" / f"{mapping_sha256}.toml")
    _append(store, item)
    known[sha256] = item
    return Outcome(file.name, "new" if before is None else "mapping changed", item.load_id)


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


def digest(path: Path) -> str:
    """Return the SHA-256 of a file's content."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _store_bytes(source: Path, target: Path) -> None:
    """Copy a file into the archive so that a crash leaves the whole of it or nothing."""
    if target.is_file():
        return
    target.parent.mkdir(parents=True, exist_ok=True)
    part = target.with_name(target.name + ".tmp")
    with source.open("rb") as reading, part.open("wb") as writing:
        while block := reading.read(BLOCK):
            writing.write(block)
        writing.flush()
        os.fsync(writing.fileno())
    os.replace(part, target)
    sync_folder(target.parent)


def _register_lines(store: Path) -> list[str]:
    """Return the whole lines of the register."""
    path = store / REGISTER
    if not path.is_file():
        return []
    return path.read_bytes().decode("utf-8", "replace").split("\n")[:-1]


def _append(store: Path, item: Registered) -> None:
    """Append a line to the register and flush it to disk; a torn line before it is cut off."""
    line = json.dumps({**dataclasses.asdict(item), "loaded_on": item.loaded_on.isoformat()})
    store.mkdir(parents=True, exist_ok=True)
    with (store / REGISTER).open("a+b") as file:
        file.seek(0)
        whole = file.read().rfind(b"\n") + 1
        file.truncate(whole)
        file.write(line.encode("utf-8") + b"\n")
        file.flush()
        os.fsync(file.fileno())
    sync_folder(store)


def sync_folder(folder: Path) -> None:
    """Flush the names of a folder to disk."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
