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
from etl.load.folders import find_logs, read_mapping
from etl.load.kept import digest, is_whole, keep
from etl.load.lost import check_none_lost
from etl.load.mapping import Mapping, parse_mapping
from etl.load.quoting import as_text
from etl.load.recognise import recognise
from etl.load.register import REGISTER as REGISTER
from etl.load.register import Registered as Registered
from etl.load.register import append_line, check_register
from etl.load.register import registered as registered
from etl.load.store_faults import not_readable


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
    StoreError
        The register is damaged or gone, or lost lines of other files than these.
    """
    check_register(store)
    loaded_on = loaded_on or dt.date.today()
    files = find_logs(path)
    check_none_lost(store, (file for file, _ in files))
    known = {item.sha256: item for item in registered(store)}
    return [_add_file(store, file, mapping, known, loaded_on) for file, mapping in files]


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


def _add_file(store: Path, file: Path, mapping: Path | None, known: dict[str, Registered],
              loaded_on: dt.date) -> Outcome:
    """Archive one file and note it, unless the register has it with the same mapping."""
    shown = as_text(file.name)
    try:
        sha256 = digest(file)
        mapping_sha256 = digest(mapping) if mapping else None
    except OSError as exc:
        return Outcome(shown, "not readable", 0, not_readable(shown, exc))
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
    append_line(store, item)
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
