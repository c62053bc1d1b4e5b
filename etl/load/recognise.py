"""Decide which log, or logs, a file feeds: by the mapping, else by the file's own name."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass, field, replace
from fnmatch import fnmatchcase
from pathlib import Path

from etl.errors import InputError
from etl.load.columns import LOGS, Log
from etl.load.extract import Dialect, Wanted, folded
from etl.load.mapping import FileEntry, Mapping, TypingOptions
from etl.load.quoting import quoted

DATED_NAME = re.compile(r"(?<!\d)(\d{4})[-_]?(\d{2})[-_]?(\d{2})(?!\d)")
"""A day in a file name, such as installations_2026-10-31.csv."""
NUMERIC_KINDS = ("number", "integer", "money")


@dataclass(frozen=True)
class Feed:
    """One use of a file: the log it feeds, and the mapping's entry where there is one."""

    entry_no: int
    """Number of the ``[[file]]`` entry; 1 where the file's name alone decided."""
    log: Log
    entry: FileEntry | None
    renamed_places: dict[str, str] = field(default_factory=dict)
    """Old name -> present one, for the whole mapping."""

    currency: str = ""
    """The reporting one of the whole mapping."""

    @property
    def options(self) -> TypingOptions:
        """How the cells of the file are written."""
        found = self.entry.options() if self.entry else TypingOptions()
        found = replace(found, currency=found.currency or self.currency)
        if not self.renamed_places or "service_point" not in self.log.names:
            return found
        places = self.renamed_places | found.words.get("service_point", {})
        return replace(found, words={**found.words, "service_point": places})

    @property
    def dialect(self) -> Dialect:
        """What the mapping declares about the file's form."""
        if self.entry is None:
            return Dialect()
        entry = self.entry
        return Dialect(entry.delimiter, entry.encoding, entry.header_row, entry.sheet,
                       entry.time_zone, entry.serial_days_from)


def recognise(file: str, mapping: Mapping | None) -> list[Feed]:
    """Return the uses of a file.

    Parameters
    ----------
    file : str
        Name of the file, without folder.
    mapping : Mapping or None

    Returns
    -------
    list of Feed
        One for each entry that matches; else one by the file's name.

    Raises
    ------
    InputError
        No entry matches and the name begins with no log's name.

    Examples
    --------
    >>> recognise("Installations_2026.xlsx", None)[0].log.name
    'installations'
    """
    renamed = mapping.renamed_places if mapping else {}
    currency = (mapping.currency if mapping else None) or ""
    feeds = [
        Feed(number, LOGS[entry.log], entry, renamed, currency)
        for number, entry in enumerate(mapping.file if mapping else (), start=1)
        if entry.match.casefold() == file.casefold()
        or fnmatchcase(file.casefold(), entry.match.casefold())
    ]
    if feeds:
        return feeds
    log = log_by_name(file)
    if log is None:
        raise InputError(
            f"{file}: its name begins with no log's name and no [[file]] entry of columns.toml"
            f' matches it. Add [[file]] match = {quoted(file)} log = "..." with one of'
            f" {', '.join(LOGS)}."
        )
    return [Feed(1, log, None, renamed, currency)]


def by_dialect(feeds: list[Feed]) -> list[tuple[Dialect, list[Feed]]]:
    """Put the uses of a file together that are read in one go: of one sheet, header, delimiter."""
    found: dict[Dialect, list[Feed]] = {}
    for feed in feeds:
        found.setdefault(feed.dialect, []).append(feed)
    return list(found.items())


def log_by_name(file: str) -> Log | None:
    """Return the log whose name a file's name begins with, or None.

    Examples
    --------
    >>> log_by_name("service points - north.csv").name
    'service_points'
    """
    stem = re.sub(r"[\s-]+", "_", Path(file).stem.casefold())
    for name in sorted(LOGS, key=len, reverse=True):
        if re.match(rf"{name}(?![a-z])", stem):
            return LOGS[name]
    return None


def date_in_name(file: str) -> dt.date | None:
    """Return the day in a file's name, where there is exactly one.

    Examples
    --------
    >>> date_in_name("installations_2026-10-31.csv")
    datetime.date(2026, 10, 31)
    """
    days = set()
    for year, month, day in DATED_NAME.findall(file):
        try:
            days.add(dt.date(int(year), int(month), int(day)))
        except ValueError:
            continue
    return days.pop() if len(days) == 1 else None


def wanted_of(feeds: list[Feed]) -> Wanted:
    """Return the column names that the feeds of one file look for."""
    names: set[str] = set()
    dates: set[str] = set()
    numbers: set[str] = set()
    required: set[str] = set()
    tags: set[str] = set()
    texts: set[str] = set()
    for feed in feeds:
        sources = feed.entry.sources() if feed.entry else {}
        parts = feed.entry.extract if feed.entry else {}
        names.update(folded(part.column) for part in parts.values())
        texts.update(folded(part.column) for part in parts.values())
        finds = feed.entry.find if feed.entry else {}
        names.update(folded(search.column) for search in finds.values())
        for column in feed.log.columns:
            own = {folded(name) for name in sources.get(column.name, plain_names(column.name))}
            names |= own
            required |= own if column.is_required else set()
            if column.kind == "date":
                dates |= own
            elif column.kind in NUMERIC_KINDS:
                numbers |= own
            elif column.kind in ("tag", "text"):
                texts |= own
                tags |= own if column.kind == "tag" else set()
    return Wanted(frozenset(names), frozenset(dates), frozenset(numbers), frozenset(tags),
                  frozenset(texts - dates - numbers), frozenset(required))


def plain_names(name: str) -> tuple[str, ...]:
    """Return the spellings under which our own name is taken without a mapping."""
    return name, name.replace("_", " "), name.replace("_", "-")
