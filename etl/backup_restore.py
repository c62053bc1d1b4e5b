"""Put a backup back as a store: all of it or nothing, and never over a store unasked."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import zipfile
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from etl.backup_archive import Listed, Part, opened, read_part
from etl.counted import counted
from etl.errors import InputError, StoreError
from etl.load.kept import sync
from etl.load.publish import POINTER, UNFINISHED, store_lock
from etl.load.store_faults import plain

OF_A_LOCK = {"lock", "format"}
"""What an otherwise empty store may hold."""


@dataclass(frozen=True)
class Restored:
    """What was put back."""

    listed: Listed
    put_aside: str
    """Name of the folder that the earlier store was renamed to; empty where there was none."""

    def as_dict(self) -> dict[str, Any]:
        """Return it for JSON."""
        about = asdict(self.listed)
        del about["parts"]
        return {**about, "n_files": len(self.listed.parts),
                "size_bytes": self.listed.size_bytes, "put_aside": self.put_aside}

    def summary(self) -> str:
        """Return it in words."""
        what = f"edition {self.listed.edition}" if self.listed.edition else "no edition yet"
        lines = [f"Restored: {what}, {counted(len(self.listed.parts), 'file')}, "
                 f"{self.listed.size_bytes / 1e6:.1f} MB, as of {self.listed.made_at}; "
                 "every hash matches."]
        if self.put_aside:
            lines.append(f"The store that was there is kept beside it as {self.put_aside}.")
        return "\n".join(lines)


def restore(file: Path, store: Path, *, is_replacing: bool = False,
            now: dt.datetime | None = None) -> Restored:
    """Make a store of a backup.

    Parameters
    ----------
    file : Path
        Made by `etl.backup.back_up`.
    store : Path
        Folder that is missing or empty.
    is_replacing : bool
        Rename a store that is there, and put the backup in its place.
    now : datetime or None
        Moment that names the folder put aside; None takes the present one.

    Returns
    -------
    Restored

    Raises
    ------
    InputError
        The file is no whole backup, or the store is not empty. Nothing was changed.
    StoreError
        A load is running in the store, or it cannot be written.

    Notes
    -----
    Every part is checked before the first is put in place, and the pointer to the edition comes
    last: a kill leaves an unfinished restore, which loads refuse to touch and a second restore
    renames out of its way, or a whole store.
    """
    with opened(file) as (archive, listed):
        put_aside = ""
        try:
            if (store / UNFINISHED).is_dir():
                put_aside = _put_aside(store, now)
            elif _holds_something(store):
                if not is_replacing:
                    raise InputError(
                        f"{store.name}: a store is there already, and a backup is never restored "
                        "over one unasked. Name another folder with --store, or say --replace: "
                        "the store that is there is renamed then, not deleted.")
                with store_lock(store):  # a load that runs is not pulled from under itself
                    put_aside = _put_aside(store, now)
            with store_lock(store):
                if _holds_something(store):
                    raise StoreError("restore: something was loaded meanwhile. Nothing was "
                                     "restored.")
                _unpack(archive, listed, file.name, store / UNFINISHED)
                _put_in_place(store)
        except OSError as exc:
            raise StoreError(f"restore: the store could not be written ({plain(exc)}). Free some "
                             "space or choose another with --store, and restore again.") from exc
    return Restored(listed, put_aside)


def _holds_something(store: Path) -> bool:
    """Tell whether a folder holds more than an unfinished restore or a lock."""
    if not store.exists():
        return False
    if not store.is_dir():
        raise InputError(f"{store.name}: is a file, not a folder. Name another with --store.")
    return bool({path.name for path in store.iterdir()} - OF_A_LOCK)


def _put_aside(store: Path, moment: dt.datetime | None) -> str:
    """Rename the store that is there."""
    store = store.resolve()
    aside = store.with_name(f"{store.name}.before-{moment or dt.datetime.now():%Y%m%d-%H%M%S}")
    if aside.exists():
        raise InputError(f"{aside.name}: exists already. Try again in a second.")
    os.rename(store, aside)
    return aside.name


def _unpack(archive: zipfile.ZipFile, listed: Listed, name: str, aside: Path) -> None:
    """Write every part into the folder aside and check its hash; on a fault remove them all."""
    free = shutil.disk_usage(aside.parent).free
    if listed.size_bytes > free:
        raise InputError(f"{name}: needs {listed.size_bytes / 1e6:.0f} MB, {free / 1e6:.0f} MB are "
                         "free. Make room, or choose another store with --store.")
    aside.mkdir()
    try:
        for part in listed.parts:
            _write(archive, part, name, aside / part.name)
        for folder in [aside, *(path for path in aside.rglob("*") if path.is_dir())]:
            sync(folder)
    except BaseException:
        shutil.rmtree(aside, ignore_errors=True)  # the next restore clears what is left
        raise


def _write(archive: zipfile.ZipFile, part: Part, name: str, path: Path) -> None:
    """Write one part under its name and flush it to the disk."""
    path.parent.mkdir(parents=True, exist_ok=True)
    mode = 0o600 if part.is_private else 0o644
    with open(path, "xb", opener=lambda target, flags: os.open(target, flags, mode)) as out:
        read_part(archive, part, name, out)
        out.flush()
        os.fsync(out.fileno())


def _put_in_place(store: Path) -> None:
    """Move what was unpacked into the store, the pointer last."""
    names = sorted(path.name for path in (store / UNFINISHED).iterdir())
    for name in sorted(names, key=lambda name: name == POINTER):
        os.replace(store / UNFINISHED / name, store / name)
    (store / UNFINISHED).rmdir()
    sync(store)
