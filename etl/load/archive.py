"""Keep every file that was ever loaded, by content, and a register of what came when.

``files/<sha256>.<ending>`` and ``mappings/<sha256>.toml`` hold the bytes; ``loads.jsonl`` holds
one line for each loading (`etl.load.register`).
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from etl.errors import InputError, StoreError
from etl.load.folders import find_logs
from etl.load.kept import is_whole, keep
from etl.load.lost import check_none_lost
from etl.load.mapping import Mapping, parse_mapping
from etl.load.once import (
    Delivered,
    Reading,
    by_content,
    deliver,
    mappings_differ,
    taken,
)
from etl.load.register import REGISTER as REGISTER
from etl.load.register import Registered as Registered
from etl.load.register import append_line, check_register
from etl.load.register import registered as registered


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
    note: str = ""
    """Which mapping counts, where the same content came with different ones."""


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
    StoreError
        The register is damaged or gone, or lost lines of other files than these.
    """
    check_register(store)
    loaded_on = loaded_on or dt.date.today()
    files = find_logs(path)
    check_none_lost(store, (file for file, _ in files))
    known = {item.sha256: item for item in registered(store)}
    delivered = deliver(files)
    outcomes: dict[Path, Outcome] = {}
    for sha256, same in by_content(delivered).items():
        before = known.get(sha256)
        read = _register(store, same, known, loaded_on)
        now = known[sha256]
        status = ("new" if before is None else
                  "already loaded" if now == before else "mapping changed")
        note = mappings_differ(path, same, read)
        outcomes |= {item.file: Outcome(
            item.name, status if item is read else "already loaded", now.load_id,
            note=note if item is read else "") for item in same}
    return [outcomes[item.file] if isinstance(item, Delivered)
            else Outcome(item.name, "not readable", 0, item.message) for item in delivered]


def everything(store: Path) -> list[Outcome]:
    """Return every file of the archive as loaded before, to build again from what is there.

    Raises
    ------
    InputError
        The archive is empty.
    StoreError
        The register is damaged or gone, or lost lines.
    """
    check_register(store)
    check_none_lost(store)
    found = [Outcome(item.source_file, "already loaded", item.load_id)
             for item in registered(store)]
    if not found:
        raise InputError("the store holds no logs yet. Load some with `braidlife load PATH`.")
    return found


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


def _register(store: Path, same: list[Delivered], known: dict[str, Registered],
              loaded_on: dt.date) -> Reading:
    """Archive the files of one content and note how it is read, unless the register says so."""
    before = known.get(same[0].sha256)
    read = taken(same, _as_read(store, before) if before else None)
    if before is None:
        load_id = 1 + max((item.load_id for item in known.values()), default=0)
        item = Registered(load_id, read.name, read.sha256, same[0].file.stat().st_size,
                          read.mapping_sha256, loaded_on)
    else:
        item = dataclasses.replace(before, source_file=read.name,
                                   mapping_sha256=read.mapping_sha256)
    for file in same:
        keep(file.file, store / "files" / item.file_name, item.sha256)
        if file.mapping is not None and file.mapping_sha256 is not None:
            keep(file.mapping, _mapping_file(store, file.mapping_sha256), file.mapping_sha256)
    if item != before:
        append_line(store, item)
        known[item.sha256] = item
    return read


def _as_read(store: Path, item: Registered) -> Reading:
    """Return how a file of the archive is read."""
    return Reading(item.source_file, item.sha256, item.mapping_sha256,
                   lambda: mapping_of(store, item))
