"""Back up a store into one file, whole, also while a load runs and pages are written to."""

from __future__ import annotations

import datetime as dt
import hashlib
import os
import stat
import zipfile
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO, Any

from etl import __version__
from etl.backup_archive import BLOCK, LIST, Listed, Part, opened, read_part
from etl.backup_snapshot import Source, snapshot
from etl.counted import counted
from etl.errors import InputError, StoreError
from etl.load.archive import REGISTER
from etl.load.kept import drop, sync
from etl.load.publish import POINTER
from etl.load.store_faults import plain

BY_CONTENT = ("files", "mappings", "entries/photographs")
"""Folders in which the name of a file is the hash of its content."""


@dataclass(frozen=True)
class BackedUp:
    """What a backup holds, and what it could not."""

    name: str
    listed: Listed
    damaged: tuple[str, ...]
    """Files that were damaged in the store already; they are in the backup as they are."""
    left_out: tuple[str, ...]
    """Files whose names cannot be put back everywhere."""

    def as_dict(self) -> dict[str, Any]:
        """Return it for JSON."""
        about = asdict(self.listed)
        del about["parts"]
        return {"file": self.name, **about, "n_files": len(self.listed.parts),
                "size_bytes": self.listed.size_bytes, "damaged": list(self.damaged),
                "left_out": list(self.left_out)}

    def summary(self) -> str:
        """Return it in words."""
        what = f"edition {self.listed.edition}" if self.listed.edition else "no edition yet"
        lines = [f"{self.name}: {what}, {counted(len(self.listed.parts), 'file')}, "
                 f"{self.listed.size_bytes / 1e6:.1f} MB; read back, every hash matches."]
        lines += [f"Damaged in the store already: {name}" for name in self.damaged]
        lines += [f"Left out, because of its name: {name!r}" for name in self.left_out]
        return "\n".join(lines)


def back_up(store: Path, out: Path, now: dt.datetime | None = None) -> BackedUp:
    """Write everything that a store keeps into one file, and read it back.

    Parameters
    ----------
    store : Path
        Folder of the store; it is not locked, loads and pages go on.
    out : Path
        File to write; it must not exist, and must not lie in the store.
    now : datetime or None
        Moment to note, with its offset; None takes the present one.

    Returns
    -------
    BackedUp

    Raises
    ------
    InputError
        The file exists, lies in the store, or cannot be written. Nothing is left behind then.
    StoreError
        There is no store.
    """
    _check_places(store, out)
    aside = out.with_name(out.name + ".part")
    try:
        # Nobody else may read it: it holds what people entered, and who they are.
        file = open(aside, "xb", opener=lambda path, flags: os.open(path, flags, 0o600))
    except FileExistsError as exc:
        raise InputError(f"{aside.name}: another backup is being written, or one was interrupted. "
                         "Delete that file if no backup is running.") from exc
    except OSError as exc:
        raise _not_made(out, exc) from exc
    try:
        with file:
            done = _write(store, file, out.name, now or dt.datetime.now().astimezone())
            file.flush()
            os.fsync(file.fileno())
        with opened(aside) as (archive, listed):
            for part in listed.parts:
                read_part(archive, part, out.name, None)
        os.replace(aside, out)
        sync(out.parent)
    except OSError as exc:
        raise _not_made(out, exc) from exc
    finally:
        drop(aside)
    return done


def _not_made(out: Path, exc: OSError) -> InputError:
    return InputError(f"{out.name}: no backup was made ({plain(exc)}). Make room, or choose "
                      "another place for it.")


def _check_places(store: Path, out: Path) -> None:
    """Stop where there is nothing to back up, or the file would harm something."""
    if not any((store / name).exists() for name in (POINTER, REGISTER, "entries")):
        raise StoreError("backup: this is no store, or nothing was ever loaded or entered in it. "
                         "Name the store with --store.")
    if out.exists():
        raise InputError(f"{out.name}: exists already, and a backup is never written over. Choose "
                         "another name, such as one with the day in it.")
    if out.resolve().is_relative_to(store.resolve()):
        raise InputError(f"{out.name}: lies in the store that is to be backed up. Choose a place "
                         "outside, best on another disk.")


def _write(store: Path, file: IO[bytes], name: str, moment: dt.datetime) -> BackedUp:
    """Write all parts and the list of them."""
    left_out: list[str] = []
    edition, sources = snapshot(store, left_out)
    with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED, allowZip64=True) as archive:
        parts = tuple(_put(archive, source) for source in sources)
        listed = Listed(edition, moment.isoformat(timespec="seconds"), __version__, parts)
        archive.writestr(_info(LIST), listed.as_bytes())
    damaged = tuple(part.name for part in parts if part.name.rpartition("/")[0] in BY_CONTENT
                    and Path(part.name).stem != part.sha256)
    return BackedUp(name, listed, damaged, tuple(left_out))


def _put(archive: zipfile.ZipFile, source: Source) -> Part:
    """Copy one file into the archive and return what was copied."""
    found, size = hashlib.sha256(), 0
    with archive.open(_info(source.name), "w", force_zip64=True) as out:
        while block := source.file.read(BLOCK):
            found.update(block)
            size += len(block)
            out.write(block)
    return Part(source.name, size, found.hexdigest(), source.is_private)


def _info(name: str) -> zipfile.ZipInfo:
    """Return the head of a plain, stored file."""
    info = zipfile.ZipInfo(name)  # its fixed date keeps equal stores equal to the byte
    info.compress_type = zipfile.ZIP_STORED
    info.external_attr = (stat.S_IFREG | 0o600) << 16
    return info
