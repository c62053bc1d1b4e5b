"""The mapping file ``columns.toml``: what a site calls its columns, and how it writes its cells."""

from __future__ import annotations

from fnmatch import fnmatchcase
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, ValidationError

from etl.errors import InputError
from etl.load.columns import LOGS
from etl.load.declared import Cell, DateFormat, Day, Delimiter, KnownLog, Months, OneGroup, Pattern
from etl.load.extract import folded
from etl.load.names import nearest, slip_of
from etl.load.options import ISO as ISO
from etl.load.options import PIVOT
from etl.load.options import TypingOptions as TypingOptions
from etl.load.place_history import Strict, Swap, last_names
from etl.load.quoting import quoted
from etl.load.seeds import conversion
from etl.load.words import meanings
from etl.parsed import from_toml


class Part(Strict):
    """Part of a cell, by a regular expression with one group."""

    column: str
    pattern: OneGroup


class Search(Strict):
    """Words to look for in a free text, each with what it most likely means."""

    column: str
    words: Annotated[dict[str, str], Field(min_length=1)]


class FileEntry(Strict):
    """One ``[[file]]`` table: which files it is for, and what it says about them."""

    match: str
    log: KnownLog
    delimiter: Delimiter | None = None
    encoding: str | None = None
    header_row: Annotated[int, Field(ge=1)] | None = None
    sheet: str | None = None
    time_zone: str | None = None
    """Of the days that a Parquet file holds as instants; UTC, and told, unless stated."""
    date_formats: list[DateFormat] = []
    decimal: Annotated[str, Field(pattern=r"^[.,]$")] = "."
    thousands: Annotated[str, Field(pattern=r"^[.,' \u2019\u00a0\u202f]?$")] = ""
    two_digit_year_pivot: Annotated[int, Field(ge=0, le=99)] = PIVOT
    serial_days_from: Literal[1900, 1904] | None = None
    """Calendar of the workbook from which plain numbers in columns of dates came."""
    months: Months = {}
    """Names of months in the days, with or without a dot -> 1 to 12."""
    exported_on: Day | None = None
    ignore: list[str] = []
    columns: dict[str, str | list[str]] = {}
    constants: dict[str, Cell] = {}
    extract: dict[str, Part] = {}
    find: dict[str, Search] = {}
    """Ours -> where it is guessed from, in rows that do not state it."""
    words: dict[str, dict[str, str]] = {}
    units: dict[str, str] = {}
    keep: dict[str, Pattern] = {}
    """Column of the file -> pattern of the rows that belong to the log."""
    skip: dict[str, list[str]] = {}
    no_date: list[str] = []
    currency: Annotated[str, Field(min_length=1, max_length=8)] | None = None
    """Of the file's amounts; the reporting one unless stated."""
    _rate: str = "1"

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
            tuple(self.no_date), self.two_digit_year_pivot, self.serial_days_from, self.months,
            self._rate, self.currency or "",
        )


class Mapping(Strict):
    """A whole ``columns.toml``."""

    currency: Annotated[str, Field(min_length=1, max_length=8)] | None = None
    rates: dict[str, Annotated[float, Field(ge=1e-9, le=1e6)]] = {}
    """Another currency -> what one of it is in the reporting one."""
    renamed_places: Annotated[dict[str, str], AfterValidator(last_names)] = {}
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
        mapping = Mapping.model_validate(from_toml(text, name))
    except ValidationError as exc:
        raise InputError(f"{name}: {_first_fault(exc)}") from exc
    stated = {entry.currency for entry in mapping.file if entry.currency}
    if mapping.currency is None and len(stated) == 1:  # the only one is the reporting one
        mapping = mapping.model_copy(update={"currency": stated.pop()})
    for number, entry in enumerate(mapping.file, start=1):
        try:
            _check_entry(entry)
            _set_rate(mapping, entry)
        except (ValueError, InputError) as exc:
            said = str(exc).removeprefix("columns.toml: ")
            raise InputError(f"{name}: [[file]] {number} ({entry.match}): {said}") from exc
    return mapping


def _check_entry(entry: FileEntry) -> None:
    """Check the column names that an entry uses against its log."""
    log = LOGS[entry.log]
    for key in ("columns", "constants", "extract", "find", "words", "units"):
        for name in getattr(entry, key):
            if name not in log.names:
                raise ValueError(
                    f"[file.{key}]: {entry.log} has no column {name!r}.{nearest(name, log.names)}"
                )
    filled = [*entry.columns, *entry.constants, *entry.extract,
              *(name for name in entry.find if name in entry.constants)]  # never looked for then
    for name in filled:
        if filled.count(name) > 1:
            raise ValueError(f"{name} is filled twice. Keep one of its lines.")
    if entry.decimal == entry.thousands:
        raise ValueError(f"decimal and thousands are both {entry.decimal!r}. Correct one.")
    _check_skip(entry)
    _check_find(entry)
    _check_sources(entry)
    for name, unit in entry.units.items():
        if not log.column(name).unit:
            raise ValueError(f"[file.units]: {name} has no unit. Remove the line.")
        conversion(unit, log.column(name).unit)
    for name in entry.words:
        meanings(log.column(name), entry.options())


def _set_rate(mapping: Mapping, entry: FileEntry) -> None:
    """Give an entry the rate of its currency.

    Raises
    ------
    ValueError
        Its currency is neither the reporting one nor among the rates.
    """
    if entry.currency is None or entry.currency == mapping.currency:
        return
    if entry.currency not in mapping.rates:
        known = [*filter(None, [mapping.currency]), *mapping.rates]
        raise ValueError(f"currency {entry.currency!r} has no rate.{nearest(entry.currency, known)}"
                         f" Add a line {quoted(entry.currency)} = ... to [rates].")
    entry._rate = f"{mapping.rates[entry.currency]:.9f}"


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
    for table in ("keep", "skip"):
        for name in getattr(entry, table):
            if name in FileEntry.model_fields:
                raise ValueError(
                    f"{name} stands below [file.{table}] and is taken for a column there."
                    " Move the line up, above the first [file. ...] table."
                )


def _check_find(entry: FileEntry) -> None:
    """Refuse a meaning that the column does not know, and a word without a letter or digit."""
    for name, search in entry.find.items():
        column = LOGS[entry.log].column(name)
        if column.kind not in ("text", "tag", "word"):
            raise ValueError(f"[file.find]: {name} is no word and cannot be found in a text.")
        for word, meaning in search.words.items():
            if not any(sign.isalnum() for sign in word):
                raise ValueError(f"[file.find.{name}]: {word!r} is no word to look for.")
            if column.words and meaning not in column.words:
                near = slip_of(meaning, column.words)
                hint = f" Did you mean {near!r}?" if near else f" Known: {', '.join(column.words)}."
                raise ValueError(f"[file.find.{name}]: {word!r} means {meaning!r}, which"
                                 f" {name} does not know.{hint}")


def _first_fault(exc: ValidationError) -> str:
    """Put the first fault that pydantic found into one sentence, an unknown key before others."""
    faults = exc.errors()
    fault = next((fault for fault in faults if fault["type"] == "extra_forbidden"), faults[0])
    place = ".".join(str(part + 1) if isinstance(part, int) else part for part in fault["loc"])
    if fault["type"] == "extra_forbidden":
        known = FileEntry.model_fields if len(fault["loc"]) > 1 else Mapping.model_fields
        if fault["loc"][0] == "swap":
            known = Swap.model_fields
        known = Part.model_fields if "extract" in fault["loc"] else known
        known = Search.model_fields if "find" in fault["loc"] else known
        return f"unknown key {place!r}.{nearest(str(fault['loc'][-1]), known)}"
    message = fault["msg"].removeprefix("Value error, ")
    return f"{place}: {message}"
