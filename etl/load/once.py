"""One content is read once: by which of its names and mappings, for `load` and `check` alike."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from etl.errors import InputError
from etl.load.folders import read_mapping
from etl.load.kept import digest
from etl.load.mapping import Mapping
from etl.load.quoting import as_text
from etl.load.recognise import recognise
from etl.load.store_faults import not_readable


@dataclass(frozen=True)
class Reading:
    """How a content is read, or would be: under a name, by a mapping."""

    name: str
    sha256: str
    mapping_sha256: str | None
    parsed: Callable[[], Mapping | None]
    """Returns the mapping; only asked where two names have to be told apart."""

    @property
    def is_named(self) -> bool:
        """Say whether the name, or the mapping, tells the log."""
        try:
            return bool(recognise(self.name, self.parsed()))
        except InputError:
            return False


@dataclass(frozen=True)
class Delivered(Reading):
    """A file on disk and the mapping file that it comes with."""

    file: Path
    mapping: Path | None


@dataclass(frozen=True)
class Unreadable:
    """A file that the operating system does not let be read, and why."""

    file: Path
    name: str
    message: str


def deliver(found: Iterable[tuple[Path, Path | None]]) -> list[Delivered | Unreadable]:
    """Look at what files hold, in their order."""
    return [_delivered(file, mapping) for file, mapping in found]


def _delivered(file: Path, mapping: Path | None) -> Delivered | Unreadable:
    name = as_text(file.name)
    try:
        return Delivered(name, digest(file), digest(mapping) if mapping else None,
                         lambda: read_mapping(mapping) if mapping else None, file, mapping)
    except OSError as exc:
        return Unreadable(file, name, not_readable(name, exc))


def by_content(files: Iterable[Delivered | Unreadable]) -> dict[str, list[Delivered]]:
    """Put the files of one content together, in the order in which the contents come first."""
    found: dict[str, list[Delivered]] = {}
    for item in files:
        if isinstance(item, Delivered):
            found.setdefault(item.sha256, []).append(item)
    return found


def taken(same: Iterable[Delivered], before: Reading | None = None) -> Reading:
    """Return how a content is read.

    Parameters
    ----------
    same : iterable of Delivered
        Files of that content, at least one without `before`, in the order of their names.
    before : Reading or None
        How it was read before they came.

    Returns
    -------
    Reading
        By the last mapping that comes with its name. A copy under another name counts only if the
        old name said nothing and the new one does: a file must not change its log because someone
        made a copy of it.
    """
    for item in same:
        if before is None:
            before = item
        elif item.name == before.name:
            before = before if item.mapping_sha256 == before.mapping_sha256 else item
        elif item.is_named and not before.is_named:
            before = item
    assert before is not None
    return before


def mappings_differ(top: Path, same: list[Delivered], read: Reading) -> str:
    """Say which mapping counts where files of one content come with different ones.

    Parameters
    ----------
    top : Path
        Folder that all of them were found in.
    same : list of Delivered
    read : Reading
        How they are read.

    Returns
    -------
    str
        Empty where they come with one mapping, or are read by none of these.
    """
    others = [item for item in same if item.mapping_sha256 != read.mapping_sha256]
    if not others or not isinstance(read, Delivered):
        return ""
    files = [_shown(item.file, top) for item in same
             if item is read or item in others]
    not_by = list(dict.fromkeys(_mapping_shown(item, top) for item in others))
    return (
        f"{', '.join(files[:-1])} and {files[-1]} hold the same content under different mappings:"
        f" it is read once, as {_shown(read.file, top)} {_mapping_shown(read, top)}, not"
        f" {' or '.join(not_by)}. Take all but one away, or give them the same mapping."
    )


def same_as(top: Path, item: Delivered, read: Reading) -> str:
    """Return the file that is read in place of one, with its folder where names are alike."""
    if item is read or not isinstance(read, Delivered):
        return ""
    return _shown(read.file, top) if item.name == read.name else read.name


def _mapping_shown(item: Delivered, top: Path) -> str:
    return f"by {_shown(item.mapping, top)}" if item.mapping else "without a columns.toml"


def _shown(file: Path, top: Path) -> str:
    """Return where a file stands below the folder that was given."""
    return as_text(file.relative_to(top).as_posix()) if file != top else as_text(file.name)
