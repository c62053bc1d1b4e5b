"""The mapping file ``columns.toml``: what a site calls its columns, and how it writes its cells."""

from __future__ import annotations

import datetime as dt
import difflib
import re
import tomllib
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from typing import Annotated, Any, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, model_validator

from etl.errors import InputError
from etl.load.columns import LOGS
from etl.load.extract import folded
from etl.load.seeds import conversion

ISO = "%Y-%m-%d"
PIVOT = 70
"""A two-digit year of 70 or more is 19.., below 20.. (common practice, no source)."""
DIRECTIVES = re.compile(r"%(.)")
KNOWN_DIRECTIVES = frozenset("YmdyBbHMSfjpIzZaAT%")
DATED_NAME = re.compile(r"(?<!\d)(\d{4})[-_]?(\d{2})[-_]?(\d{2})(?!\d)")
"""A day in a file name, such as installations_2026-10-31.csv."""


@dataclass(frozen=True)
class TypingOptions:
    """How the cells of a group of files are written."""

    date_formats: tuple[str, ...] = (ISO,)
    decimal: str = "."
    thousands: str = ""
    words: dict[str, dict[str, str]] = field(default_factory=dict)
    """Our column -> the site's word -> ours; ``""`` stands for an empty cell."""
    units: dict[str, str] = field(default_factory=dict)
    """Our column -> the unit in which its cells are written."""
    no_date: tuple[str, ...] = ()
    """Cells that stand for no date."""
    two_digit_year_pivot: int = PIVOT
    """Two-digit years from here on belong to the last century."""


def _known_log(name: str) -> str:
    if name not in LOGS:
        raise ValueError(f"unknown log {name!r}.{nearest(name, LOGS)}")
    return name


def _date_format(text: str) -> str:
    signs = DIRECTIVES.findall(text)
    unknown = [sign for sign in signs if sign not in KNOWN_DIRECTIVES]
    if not signs or unknown:
        raise ValueError(f"{text!r} is not a date format such as '%d.%m.%Y'")
    return text


def _one_group(pattern: str) -> str:
    try:
        n_groups = re.compile(pattern).groups
    except re.error as exc:
        raise ValueError(f"{pattern!r} is not a regular expression ({exc})") from exc
    if n_groups != 1:
        raise ValueError(f"{pattern!r} needs exactly one group in round brackets")
    return pattern


def _delimiter(sign: str) -> str:
    if len(sign) != 1 or sign in '"\r\n ':
        raise ValueError(f"{sign!r} is not one delimiter sign such as ';'")
    return sign


class Strict(BaseModel):
    """A table of the mapping file, in which an unknown key is an error."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Part(Strict):
    """Part of a cell, by a regular expression with one group."""

    column: str
    pattern: Annotated[str, AfterValidator(_one_group)]


class FileEntry(Strict):
    """One ``[[file]]`` table: which files it is for, and what it says about them."""

    match: str
    log: Annotated[str, AfterValidator(_known_log)]
    delimiter: Annotated[str, AfterValidator(_delimiter)] | None = None
    encoding: str | None = None
    header_row: Annotated[int, Field(ge=1)] | None = None
    sheet: str | None = None
    date_formats: list[Annotated[str, AfterValidator(_date_format)]] = []
    decimal: Annotated[str, Field(pattern=r"^[.,]$")] = "."
    thousands: Annotated[str, Field(pattern=r"^[.,' \u00a0\u202f]?$")] = ""
    two_digit_year_pivot: Annotated[int, Field(ge=0, le=99)] = PIVOT
    exported_on: dt.date | None = None
    ignore: list[str] = []
    columns: dict[str, str | list[str]] = {}
    constants: dict[str, str | int | float | bool | dt.date] = {}
    extract: dict[str, Part] = {}
    words: dict[str, dict[str, str]] = {}
    units: dict[str, str] = {}
    skip: dict[str, list[str]] = {}
    no_date: list[str] = []

    def sources(self) -> dict[str, tuple[str, ...]]:
        """Return our column -> the file's columns whose cells are joined."""
        return {ours: (theirs,) if isinstance(theirs, str) else tuple(theirs)
                for ours, theirs in self.columns.items()}

    def ignores(self, name: str) -> bool:
        """Say whether a column of the file is left aside on purpose; ``*`` matches any text."""
        return any(folded(name) == folded(item) or fnmatchcase(folded(name), folded(item))
                   for item in self.ignore)

    def options(self) -> TypingOptions:
        """Return how the cells are written; ISO days are always understood."""
        formats = dict.fromkeys(self.date_formats)
        if not any(item.startswith("%Y-") for item in formats):
            formats[ISO] = None
        return TypingOptions(
            tuple(formats), self.decimal, self.thousands, self.words, self.units,
            tuple(self.no_date), self.two_digit_year_pivot,
        )


def _renamed(names: dict[str, str]) -> dict[str, str]:
    """Follow each old name of a place to its last one."""
    found = {}
    for old in names:
        new, passed = old, []
        while new in names:
            if new in passed:
                raise ValueError(f"{old!r} is renamed in a circle. Remove one of the lines.")
            passed.append(new)
            new = names[new].strip()
        if not new or not old.strip():
            raise ValueError(f"{old!r} = {new!r} names no place. Correct the line.")
        found[old] = new
    return found


class Swap(Strict):
    """Two hoses that changed places although no log says so."""

    on: dt.date
    places: Annotated[list[str], Field(min_length=2, max_length=2)]
    hoses: list[str] = []
    """Their tags, in the order of the places that they came out of; none where they have none."""

    @model_validator(mode="after")
    def _fits(self) -> Self:
        if len(self.hoses) not in (0, 2):
            raise ValueError("hoses names the hose that came out of each place, or is left out")
        if len(set(self.places)) < 2 or len(self.hoses) != len(set(self.hoses)):
            raise ValueError("places and hoses of a swap must differ")
        return self


class Mapping(Strict):
    """A whole ``columns.toml``."""

    currency: Annotated[str, Field(min_length=1, max_length=8)] | None = None
    renamed_places: Annotated[dict[str, str], AfterValidator(_renamed)] = {}
    """Old name of a service point -> its present one, in every file of this mapping."""
    swap: list[Swap] = []
    file: list[FileEntry] = []


def parse_mapping(text: str, name: str = "columns.toml") -> Mapping:
    """Read a mapping file.

    Parameters
    ----------
    text : str
        Content of the file.
    name : str
        Its name, for messages.

    Returns
    -------
    Mapping

    Raises
    ------
    InputError
        It is not TOML, or a key, log, column, unit, format or pattern is not known; the nearest
        known one is named.

    Examples
    --------
    >>> parse_mapping('[[file]]\\nmatch = "a*.csv"\\nlog = "stock"').file[0].log
    'stock'
    """
    try:
        mapping = Mapping.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as exc:
        raise InputError(f"{name}: not readable as TOML ({exc}). Correct the file.") from exc
    except ValidationError as exc:
        raise InputError(f"{name}: {_first_fault(exc)}") from exc
    for number, entry in enumerate(mapping.file, start=1):
        try:
            _check_entry(entry)
        except (ValueError, InputError) as exc:
            raise InputError(f"{name}: [[file]] {number} ({entry.match}): {exc}") from exc
    return mapping


def nearest(name: str, known: Any) -> str:
    """Return a hint at the nearest known name, or all of them where none is near."""
    near = difflib.get_close_matches(name, list(known), 1, 0.5)
    return f" Did you mean {near[0]!r}?" if near else f" Known: {', '.join(known)}."


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


def _check_entry(entry: FileEntry) -> None:
    """Check the column names that an entry uses against its log."""
    log = LOGS[entry.log]
    for key in ("columns", "constants", "extract", "words", "units"):
        for name in getattr(entry, key):
            if name not in log.names:
                raise ValueError(
                    f"[file.{key}]: {entry.log} has no column {name!r}.{nearest(name, log.names)}"
                )
    filled = [*entry.columns, *entry.constants, *entry.extract]
    for name in filled:
        if filled.count(name) > 1:
            raise ValueError(f"{name} is filled twice. Keep one of its lines.")
    if entry.decimal == entry.thousands:
        raise ValueError(f"decimal and thousands are both {entry.decimal!r}. Correct one.")
    _check_skip(entry)
    _check_sources(entry)
    for name, unit in entry.units.items():
        if not log.column(name).unit:
            raise ValueError(f"[file.units]: {name} has no unit. Remove the line.")
        conversion(unit, log.column(name).unit)


def _check_sources(entry: FileEntry) -> None:
    """Refuse one column of the file under two of our names."""
    seen: dict[str, str] = {}
    for ours, sources in entry.sources().items():
        if not sources:
            raise ValueError(f"{ours} = [] names no column.")
        key = folded(sources[0])
        if len(sources) == 1 and seen.setdefault(key, ours) != ours:
            raise ValueError(
                f"{sources[0]!r} is mapped to both {seen[key]} and {ours}. Keep one of the lines."
            )


def _check_skip(entry: FileEntry) -> None:
    """Catch keys that slipped into the last table, as TOML has it."""
    for name in entry.skip:
        if name in FileEntry.model_fields:
            raise ValueError(
                f"{name} stands below [file.skip] and is taken for a column there."
                " Move the line up, above the first [file. ...] table."
            )


def _first_fault(exc: ValidationError) -> str:
    """Put the first fault that pydantic found into one sentence, an unknown key before others."""
    faults = exc.errors()
    fault = next((fault for fault in faults if fault["type"] == "extra_forbidden"), faults[0])
    place = ".".join(str(part + 1) if isinstance(part, int) else part for part in fault["loc"])
    if fault["type"] == "extra_forbidden":
        known = FileEntry.model_fields if len(fault["loc"]) > 1 else Mapping.model_fields
        if fault["loc"][0] == "swap":
            known = Swap.model_fields
        if "extract" in fault["loc"]:
            known = Part.model_fields
        return f"unknown key {place!r}.{nearest(str(fault['loc'][-1]), known)}"
    message = fault["msg"].removeprefix("Value error, ")
    return f"{place}: {message}"
