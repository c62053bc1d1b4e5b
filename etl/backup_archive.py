"""The form of a backup: one file whose parts are as long as what they hold, and their hashes.

A backup is a ZIP file (ISO/IEC 21320-1) whose parts are stored, not compressed: what comes out of
one can never be larger than the file itself. Its last part is the list of all others, each with
size and hash. Whatever differs from that form by a single name is refused whole, before anything
is written.
"""

from __future__ import annotations

import hashlib
import json
import re
import stat
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO, Any

from etl.errors import InputError

FORM = 1
"""Raised when older software could not read a backup any more."""
LIST = "backup.json"
LARGEST_LIST = 64_000_000
"""Bytes; a list of a quarter of a million files."""
BLOCK = 1 << 20
LONGEST_NAME = 400
DEEPEST = 8
SIGN_OF_HASH = re.compile(r"[0-9a-f]{64}")
WHOLE_AGAIN = "Take another backup file, or copy this one again from where it was kept."
NO_BACKUP = "this is no backup made by `braidlife backup`, or it is damaged"


@dataclass(frozen=True)
class Part:
    """One file of a store in a backup."""

    name: str
    """Relative to the store, parts separated by a slash."""
    size_bytes: int
    sha256: str
    is_private: bool = False
    """Whether only its owner may read it."""


@dataclass(frozen=True)
class Listed:
    """What a backup holds."""

    edition: int
    """Number of the published edition; 0 without one."""
    made_at: str
    software: str
    parts: tuple[Part, ...]

    @property
    def size_bytes(self) -> int:
        """Bytes of all files together."""
        return sum(part.size_bytes for part in self.parts)

    def as_bytes(self) -> bytes:
        """Return the list as it stands in a backup."""
        return json.dumps({"form": FORM, **asdict(self)}, indent=1).encode("ascii")


def is_plain(name: str) -> bool:
    r"""Tell whether a name stays inside the folder that it is put into, on any system.

    Examples
    --------
    >>> is_plain("entries/teardowns.jsonl"), is_plain("../etc/passwd"), is_plain("a//b")
    (True, False, False)
    >>> is_plain("/etc/passwd"), is_plain("c:evil"), is_plain("a\\b"), is_plain("a\nb")
    (False, False, False, False)
    """
    parts = name.split("/")
    return (
        0 < len(name) <= LONGEST_NAME and len(parts) <= DEEPEST and name.isprintable()
        and not any(sign in name for sign in '\\:*?"<>|')
        and all(part.strip(". ") and part == part.strip() for part in parts)
    )


def read_list(archive: zipfile.ZipFile, name: str) -> Listed:
    """Return what a backup says that it holds, after checking that it can be true.

    Parameters
    ----------
    archive : ZipFile
    name : str
        Name of the backup file, for messages.

    Raises
    ------
    InputError
        The list is missing, of another form, or does not match the parts of the file.
    """
    infos = archive.infolist()
    if [info.filename for info in infos].count(LIST) != 1:
        raise InputError(f"{name}: {NO_BACKUP} (it holds no list of its files). {WHOLE_AGAIN}")
    info = archive.getinfo(LIST)
    _check_form(info, name)
    if info.file_size > LARGEST_LIST:
        raise InputError(f"{name}: {NO_BACKUP} (its list is too long). {WHOLE_AGAIN}")
    try:
        told = json.loads(archive.read(info))
        form = told.pop("form")
    except (ValueError, AttributeError, KeyError, TypeError, RecursionError) as exc:
        raise InputError(f"{name}: {NO_BACKUP} (its list cannot be read). {WHOLE_AGAIN}") from exc
    if form != FORM:
        raise InputError(f"{name}: made by another version of Braidlife (form {str(form)[:20]}, "
                         f"known is {FORM}). Restore it with that version.")
    listed = _listed(told, name)
    _check_parts(listed, infos, name)
    return listed


def _listed(told: dict[str, Any], name: str) -> Listed:
    """Return the list with every value of the type that it must have."""
    try:
        parts = tuple(Part(**part) for part in told["parts"])
        listed = Listed(told["edition"], told["made_at"], told["software"], parts)
    except (TypeError, KeyError) as exc:
        raise InputError(f"{name}: {NO_BACKUP} (its list cannot be read). {WHOLE_AGAIN}") from exc
    is_typed = type(listed.edition) is int and all(
        isinstance(part.name, str) and type(part.size_bytes) is int and part.size_bytes >= 0
        and isinstance(part.sha256, str) and SIGN_OF_HASH.fullmatch(part.sha256)
        and type(part.is_private) is bool for part in parts)
    if not is_typed:
        raise InputError(f"{name}: {NO_BACKUP} (its list cannot be read). {WHOLE_AGAIN}")
    return listed


def _check_parts(listed: Listed, infos: list[zipfile.ZipInfo], name: str) -> None:
    """Stop unless the parts are plain files inside the store, each once, all of them listed."""
    for part in listed.parts:
        if not is_plain(part.name):
            raise InputError(f"{name}: refused, a file in it would be put outside the store "
                             f"({part.name[:60]!r}). This backup was not made by Braidlife.")
    wanted = {part.name: part.size_bytes for part in listed.parts}
    folders = {"/".join(name.split("/")[:n]) for name in wanted for n in range(1, DEEPEST)
               if n <= name.count("/")}
    if len(wanted) != len(listed.parts) or folders & set(wanted):
        raise InputError(f"{name}: refused, two files in it have one name. {WHOLE_AGAIN}")
    held = [info for info in infos if info.filename != LIST]
    for info in held:
        _check_form(info, name)
    if len(held) != len(wanted) or {info.filename: info.file_size for info in held} != wanted:
        raise InputError(f"{name}: {NO_BACKUP} (its files are not those of its list). "
                         f"{WHOLE_AGAIN}")


def _check_form(info: zipfile.ZipInfo, name: str) -> None:
    """Stop at a part that is no plain, stored file."""
    kind = stat.S_IFMT(info.external_attr >> 16)
    if kind not in (0, stat.S_IFREG) or info.is_dir():
        raise InputError(f"{name}: refused, it holds a link or something else that is no file "
                         f"({info.filename[:60]!r}). This backup was not made by Braidlife.")
    is_stored = info.compress_type == zipfile.ZIP_STORED and info.compress_size == info.file_size
    if not is_stored or info.flag_bits & 0x1:
        raise InputError(f"{name}: refused, a file in it is compressed or locked, which no backup "
                         f"of ours is ({info.filename[:60]!r}). Unpacked, it could fill the disk.")


@contextmanager
def opened(path: Path) -> Iterator[tuple[zipfile.ZipFile, Listed]]:
    """Open a backup whose form has been checked.

    Raises
    ------
    InputError
        It cannot be read, or is not of the form.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            listed = read_list(archive, path.name)
            if listed.size_bytes > path.stat().st_size:
                raise InputError(f"{path.name}: refused, its files together are larger than it is "
                                 "itself. This backup was not made by Braidlife.")
            yield archive, listed
    except OSError as exc:
        raise InputError(f"{path.name}: could not be read ({exc.strerror or 'cut short'}). "
                         f"{WHOLE_AGAIN}") from exc
    except (zipfile.BadZipFile, NotImplementedError, EOFError, ValueError) as exc:
        raise InputError(f"{path.name}: {NO_BACKUP}. {WHOLE_AGAIN}") from exc


def read_part(archive: zipfile.ZipFile, part: Part, name: str, out: IO[bytes] | None) -> None:
    """Read one file of a backup to its end, write it, and check its hash.

    Raises
    ------
    InputError
        Its content is not what the list promises.
    """
    found, left = hashlib.sha256(), part.size_bytes
    with archive.open(part.name) as source:
        while block := source.read(min(BLOCK, left + 1)):
            left -= len(block)
            if left < 0:
                break
            found.update(block)
            if out is not None:
                out.write(block)
    if left or found.hexdigest() != part.sha256:
        raise InputError(f"{name}: {part.name[:80]} in it is damaged, its hash does not match. "
                         f"Nothing was changed. {WHOLE_AGAIN}")
