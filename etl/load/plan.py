"""Fit a file's columns to a log's: what fills each column, what is left aside, what is wrong."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from etl.errors import InputError
from etl.load.extract import JOINT, folded
from etl.load.found_words import found
from etl.load.names import nearest_source, suggestion
from etl.load.own_export import MARKS, is_own
from etl.load.quoting import BLANK_SIGNS, bare, has_bare_edges, literal, quoted
from etl.load.recognise import Feed, plain_names
from etl.load.words import meanings


@dataclass(frozen=True)
class Plan:
    """How the columns of one log are made from the cells of one file."""

    filled: dict[str, str]
    """Our column -> SQL expression on the staging table; columns that are absent stay empty."""
    other: tuple[tuple[str, int], ...]
    """Name and position of the cells that go into ``other_cells``."""
    skip: str
    """SQL condition of the rows that the mapping leaves out; empty where there are none."""
    guessed: dict[str, str]
    """Our column -> SQL for its text where that is a guess from free text, NULL where it is not."""
    may_add_blanks: bool = False
    """True where what fills a column may begin or end with a blank although no cell does."""


class _Columns:
    """The file's columns by name."""

    def __init__(self, header: tuple[str, ...]) -> None:
        """Number the names; of two equal ones the first counts."""
        self.header = header
        self.position: dict[str, int] = {}
        for position, name in enumerate(header):
            if name:
                self.position.setdefault(folded(name), position)

    def find(self, names: Iterable[str]) -> int | None:
        """Return the position of the first name that is there."""
        for name in names:
            if folded(name) in self.position:
                return self.position[folded(name)]
        return None


def make_plan(file: str, feed: Feed, header: tuple[str, ...], feeds: list[Feed]) -> Plan:
    """Fit a header to a log.

    Parameters
    ----------
    file : str
        Name for messages.
    feed : Feed
        The log and its mapping entry.
    header : tuple of str
        Column names of the file.
    feeds : list of Feed
        All uses of this file: a column that one of them uses is unknown to none.

    Returns
    -------
    Plan

    Raises
    ------
    InputError
        A mapped column is not in the file, a column of the file is neither known nor ignored, or
        a required column is missing. The nearest names and the line to add are given.
    """
    columns = _Columns(header)
    filled, used = _mapped(file, feed, columns)
    for name in feed.log.names:
        if name in filled:
            continue
        position = columns.find(plain_names(name))
        if position is not None and position not in used and not _ignored(feed, header[position]):
            filled[name], used = f"c{position}", used | {position}
    guessed = _guess(file, feed, columns, filled)
    left = [(name, position) for position, name in enumerate(header) if position not in used]
    faults, near = _missing(feed, filled, [name for name, _ in left if name])
    faults += _unknown(feed, filled, header, left, _known_elsewhere(feed, feeds, columns), near)
    if faults:
        new = f'a [[file]] (match = {quoted(file)}, log = "{feed.log.name}")'
        raise InputError(f"{file}: {' '.join(faults)} The lines go into"
                         f" {'its' if feed.entry else new} entry of columns.toml.")
    return Plan(filled, _named_apart(left), _skip(file, feed, columns), guessed,
                _may_add_blanks(feed))


def _may_add_blanks(feed: Feed) -> bool:
    """Say whether parts of cells, or words of the mapping, may bring blanks at their edges."""
    if feed.entry is None:
        return False
    declared = [str(value) for value in feed.entry.constants.values()]
    return bool(feed.entry.extract or feed.entry.find) or not all(map(has_bare_edges, declared))


def _mapped(file: str, feed: Feed, columns: _Columns) -> tuple[dict[str, str], set[int]]:
    """Fill the columns that the mapping names."""
    filled: dict[str, str] = {}
    used: set[int] = set()
    if feed.entry is None:
        return filled, used
    for ours, sources in feed.entry.sources().items():
        positions = [_position(file, columns, ours, name) for name in sources]
        used.update(positions)
        cells = ", ".join(f"c{position}" for position in positions)
        joined = f"nullif(concat_ws({literal(JOINT)}, {cells}), '')"
        filled[ours] = joined if len(positions) > 1 else cells
    for ours, value in feed.entry.constants.items():
        text = ("yes" if value else "no") if isinstance(value, bool) else str(value)
        filled[ours] = literal(text)
    for ours, part in feed.entry.extract.items():
        position = _position(file, columns, ours, part.column)
        filled[ours] = f"nullif(regexp_extract(c{position}, {literal(part.pattern)}, 1), '')"
    return filled, used


def _guess(file: str, feed: Feed, columns: _Columns, filled: dict[str, str]) -> dict[str, str]:
    """Fill what the cells do not state from words in a free text; changes `filled`."""
    guessed = {}
    for ours, search in (feed.entry.find if feed.entry else {}).items():
        guess = found(f"c{_position(file, columns, ours, search.column)}", search.words)
        cell = filled.get(ours, "null")
        stated = _stated(feed, ours, cell)
        filled[ours] = f"coalesce({stated}, {guess}, {cell})"
        guessed[ours] = f"case when {stated} is null then {guess} end"
    return guessed


def _stated(feed: Feed, ours: str, cell: str) -> str:
    """Write what a cell states: nothing where it is blank or a word that means nothing."""
    column, said = feed.log.column(ours), bare(cell)
    nothing = ", ".join(literal(word) for word, meaning in meanings(column, feed.options).items()
                        if not meaning)
    as_listed = said if column.kind == "tag" else f"lower({said})"
    return f"case when {as_listed} not in ({nothing}) then {said} end" if nothing else said


def _position(file: str, columns: _Columns, ours: str, name: str) -> int:
    """Return where a mapped column stands, or say that it does not."""
    position = columns.find([name])
    if position is None:
        near = nearest_source(folded(name), filter(None, columns.header))
        hint = f" Did you mean {near!r}?" if near else f" It has {_listed(columns.header)}."
        raise InputError(
            f"{file}: columns.toml takes {ours} from column {name!r}, which the file does not"
            f" have.{hint}"
        )
    return position


def _missing(feed: Feed, filled: dict[str, str], free: list[str]) -> tuple[list[str], set[str]]:
    """Name the required columns that nothing fills, with the line to add."""
    faults, proposed = [], set()
    for name in feed.log.required:
        if name not in filled:
            near = nearest_source(name, free)
            proposed |= {near} if near else set()
            found = f"nearest is {near!r}" if near else f"the file has {_listed(free) or 'no more'}"
            if near and folded(near) in map(folded, plain_names(name)):
                found = f"ignore leaves {near!r} aside"
            faults.append(
                f"Required column {name} of {feed.log.name} is missing; {found}."
                f" Add [file.columns] {name} = {quoted(near or '...')}."
            )
    choices = feed.log.alternatives
    if choices and not any(all(name in filled for name in names) for names in choices):
        ways = " or ".join(" + ".join(names) for names in choices)
        faults.append(f"{feed.log.name} needs {ways}; the file has neither. Add [file.columns].")
    return faults, proposed


def _unknown(feed: Feed, filled: dict[str, str], header: tuple[str, ...],
             left: list[tuple[str, int]], known: set[int], proposed: set[str]) -> list[str]:
    """Name the columns that are neither mapped nor ignored, with the line to add."""
    names = [name for name, position in left if name and position not in known
             and name not in proposed and not _ignored(feed, name)]
    if is_own(header):
        names = [name for name in names if folded(name) not in MARKS]
    if not names:
        return []
    lines = []
    for name in names:
        ours = suggestion(feed.log, name, filled)
        if ours is not None:
            lines.append(f"[file.columns] {ours} = {quoted(name)}")
    ignored = ", ".join(map(quoted, names))
    either = f"{' and '.join(lines)}, or " if lines else ""
    return [f"Unknown column {_listed(names)}. Add {either}ignore = [{ignored}]."]


def _known_elsewhere(feed: Feed, feeds: list[Feed], columns: _Columns) -> set[int]:
    """Return the columns that an extract, a skip or another use of the file takes."""
    known: set[int | None] = set()
    for other in feeds:
        entry = other.entry
        if entry is not None:
            known |= {columns.find([part.column]) for part in entry.extract.values()}
            known |= {columns.find([part.column]) for part in entry.find.values()}
            known |= {columns.find([name]) for name in (*entry.skip, *entry.keep)}
        if other is not feed:
            known |= {position for position, name in enumerate(columns.header)
                      if _ignored(other, name)}
            sources = entry.sources() if entry else {}
            for name in other.log.names:
                known |= {columns.find([item]) for item in sources.get(name, plain_names(name))}
    return {position for position in known if position is not None}


def _ignored(feed: Feed, name: str) -> bool:
    """Say whether the mapping leaves a column aside."""
    return feed.entry is not None and feed.entry.ignores(name)


def _named_apart(left: list[tuple[str, int]]) -> tuple[tuple[str, int], ...]:
    """Give every left column a name of its own."""
    seen: dict[str, int] = {}
    named = []
    for name, position in left:
        own = name or f"column {position + 1}"
        seen[own] = seen.get(own, 0) + 1
        named.append((own if seen[own] == 1 else f"{own} ({seen[own]})", position))
    return tuple(named)


def _skip(file: str, feed: Feed, columns: _Columns) -> str:
    """Write the condition of the rows that the mapping leaves out."""
    conditions = []
    for name, pattern in (feed.entry.keep if feed.entry else {}).items():
        cell = bare(f"c{_position(file, columns, 'rows to keep', name)}")
        conditions.append(f"not regexp_matches(coalesce({cell}, ''), {literal(pattern)})")
    for name, values in (feed.entry.skip if feed.entry else {}).items():
        cell = bare(f"c{_position(file, columns, 'rows to skip', name)}")
        texts = ", ".join(literal(value.strip(BLANK_SIGNS)) for value in values)
        if texts:
            conditions.append(f"coalesce({cell}, '') in ({texts})")
    return " or ".join(conditions)


def _listed(names: Iterable[str]) -> str:
    """List at most eight names."""
    shown = [repr(name) for name in names if name]
    more = f" and {len(shown) - 8} more" if len(shown) > 8 else ""
    return ", ".join(shown[:8]) + more
