"""Fuzzing target of the page that asks what a file leaves open, and how its tables are changed.

`cells_mutator` writes whole columns anew as sites write them, so that questions come up at all.
"""

from __future__ import annotations

import contextlib
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest import mock

from dashboard import actions
from dashboard.actions import incoming as doors
from dashboard.parts.start import form
from dashboard.parts.start.ways import NONE
from etl.entry import incoming
from etl.entry import look as looking
from etl.entry.incoming_choice import KINDS, Choice, guess, with_forms
from etl.entry.incoming_text import mapping_text
from etl.errors import InputError
from etl.load.columns import LOGS
from etl.load.look import Look
from etl.load.mapping import FileEntry, parse_mapping
from tests.bench.fuzz import SECONDS_FREE
from tests.bench.fuzz_cells import drawn_table, matches, read, said_of
from tests.bench.fuzz_tables import (
    FILE,
    Table,
    cells_of,
    kept,
    looks_of,
    proposed,
    table_of,
    typed,
)
from tests.load.test_hostile_texts import empty_site, holds

TYPED = {"0 currency": ["", "EUR", "usd"], "0 rate": ["", "0.5", "x"],
         "0 holds": ["", "hose", "Schlauch, 100 %", "P1,(x)", "a.b, x|y", "-"]}
"""What is typed into boxes without options."""


class _Here:
    """Stands in for the running pages: a store without files."""

    store = Path("/nonexistent")


@mock.patch.object(actions, "at_hand", mock.Mock(return_value=_Here))
def asked(data: bytes, is_whole: bool) -> float:
    """The page's questions about a file: each answer is taken up, and none is lost."""
    head, table = table_of(data)
    drawn, looks = random.Random(head), looks_of(table)
    if len(set(map(str.casefold, table[0]))) < len(table[0]):
        return SECONDS_FREE  # refused as a whole
    choice = guess(FILE, looks, None, kind=drawn.choice([None, *KINDS]))
    assert with_forms(choice, looks) == choice, "forms change by looking again"
    for _ in range(2):
        faults = _unread(choice, table)
        boxes = _drawn(looks, choice, faults)
        answers = {index: drawn.choice(values or TYPED.get(index, table[-1]))
                   for index, values in boxes.items()
                   if not index.startswith(("0 column", "0 unit"))}
        answers |= {index: choice.columns.get(index[9:], NONE) for index in boxes
                    if index.startswith("0 column")}
        told = form.chosen(0, choice, answers)
        said = with_forms(Choice.model_validate(told), looks)
        assert with_forms(said, looks) == said, "forms change by looking again"
        try:
            mapping = parse_mapping(mapping_text({FILE: said}))
        except InputError:
            return SECONDS_FREE  # two words that are one, or no currency: told on the page
        _taken_up(answers, said, mapping.file, table, doors.open_questions(
            choice, {"columns": [vars(item) for item in looks]}, faults))
        choice = said
    _next_month(head, table, choice)
    if is_whole:
        _through_the_page(table, choice)
    return SECONDS_FREE


def _next_month(head: str, table: Table, choice: Choice) -> None:
    """Guess about a later file of the same columns: its own cells tell its forms at once."""
    _, other = table_of(drawn_table(random.Random(head[::-1])))
    later = [table[0], *([*row, *[""] * len(table[0])][:len(table[0])] for row in other[1:])]
    again = guess(FILE, looks_of(later), None, [choice])
    assert with_forms(again, looks_of(later)) == again, "forms change by looking again"
    with contextlib.suppress(InputError):
        parse_mapping(mapping_text({FILE: again}))
    _drawn(looks_of(later), again, _unread(again, later))


def _unread(choice: Choice, table: Table) -> list[dict[str, str]]:
    """Return the refused days as the report tells them."""
    try:
        entries = parse_mapping(mapping_text({FILE: choice})).file
    except InputError:
        return []
    return [{"column_name": ours, "value": cell} for entry in entries
            for ours, (theirs,) in entry.sources().items() if LOGS[entry.log].column(
                ours).kind == "date" and theirs in table[0]
            for cell, value in read(ours, cells_of(table, theirs), entry.options()).items()
            if value is None]


def _drawn(looks: list[Look], choice: Choice, faults: list[dict[str, str]],
           ) -> dict[str, list[str]]:
    """Draw the boxes about a file: index -> the values that can be chosen; none where one types."""
    file = {"file": FILE, "columns": [vars(item) for item in looks]}
    boxes: dict[str, list[str]] = {}
    for item in form.form(0, file, choice, faults)._traverse():
        index = getattr(item, "id", None)
        if isinstance(index, dict) and index["type"] == "start-field":
            values = [option["value"] if isinstance(option, dict) else option
                      for option in getattr(item, "data", [])]
            assert len(values) == len(set(values)), f"{index}: {values} twice"
            assert index["index"] not in boxes, f"{index} twice"
            assert not values or item.value in values, f"{index}: {item.value} is no option"
            boxes[index["index"]] = values
    return boxes


def _taken_up(answers: dict[str, str], said: Choice, entries: list[FileEntry], table: Table,
              was: dict[str, Any]) -> None:
    """Hold every answer against what the mapping reads afterwards."""
    for entry in entries:
        options = entry.options()
        for ours, (theirs,) in entry.sources().items():
            assert theirs in table[0], f"{theirs!r} is no column"
            found = read(ours, cells_of(table, theirs), options)
            bad = said_of(LOGS[entry.log].column(ours), answers, was, found, options)
            assert not bad, f"{ours} {bad} is not read under {options}"
        for name, pattern in entry.keep.items():
            words = [word.strip() for word in said.keep_words.split(",") if word.strip()]
            if name != said.keep_column or not words:
                continue
            for cell, is_kept in matches(pattern, cells_of(table, name)).items():
                wanted = any(word.lower() in cell.lower() for word in words)
                assert is_kept == wanted or not (cell + said.keep_words).isascii(), (cell, pattern)


def _looked_here(shown: str, path: Path, folder: str) -> dict[str, Any]:
    """Look at files in this process, so that coverage is seen."""
    with mock.patch.object(looking.os, "nice"), mock.patch.object(looking.resource, "setrlimit"):
        looking._child(path, Path(folder) / "report.json", 0)
    report: dict[str, Any] = looking.json.loads((Path(folder) / "report.json").read_text("utf-8"))
    if "error" in report:
        raise InputError(report["error"])
    return report


def _through_the_page(table: Table, choice: Choice) -> None:
    """Take a file in with its choice, and load it: what was told of its rows comes true."""
    with empty_site() as site, mock.patch.object(looking, "_looked", _looked_here):
        incoming.add_file(site.store, FILE, "\n".join(map(";".join, table)).encode() or b"x")
        with contextlib.suppress(InputError):
            incoming.choose(site.store, FILE, choice.model_dump())
        report = incoming.look_at_files(site.store, ["P1", "P2"])
        kept = incoming.chosen(site.store)
        assert incoming.look_at_files(site.store, ["P1", "P2"]) == report, "another look differs"
        assert incoming.chosen(site.store) == kept, "a look changes what was chosen"
        (file,) = report["files"]
        site.write(FILE, (site.store / "incoming" / FILE).read_bytes())
        site.write("columns.toml", incoming.mapping_of(site.store))
        if "service_points" not in file["logs"]:
            site.write("service_points.csv", "service_point,application_class\nP1,any\nP2,any\n")
        holds(site)
        # What cannot be loaded yet is tried under a proposal, which is another mapping.
        for rows in file["rows"] if not file["messages"] else ():
            (n_raw,), = site.rows(f"select count(*) from raw.{rows['log']}")
            n = rows["n_kept"] + rows["n_superseded"] + rows["n_refused"]
            assert n == n_raw or rows["log"] == "service_points", f"{n} of {n_raw} rows told"


TARGETS: dict[str, Callable[[bytes, bool], float]] = {
    "typed": typed, "proposed": proposed, "asked": asked, "kept": kept}


def seeds() -> list[bytes]:
    """Return the first inputs: tables as sites write them."""
    return [drawn_table(random.Random(number)) for number in range(60)]


def cells_mutator(mutate: Callable[[bytes, int], bytes]) -> Callable[[bytes, int, int], bytes]:
    """Return what writes a table anew, or a cell of one, or changes any bytes of it."""

    def change(data: bytes, most: int, seed: int) -> bytes:
        drawn = random.Random(seed)
        if drawn.random() < 0.4:
            return drawn_table(drawn)[:most]
        head, *lines = data.split(b"\n")
        if not lines or drawn.random() < 0.1:
            return mutate(data, most)
        at = drawn.randrange(len(lines))
        cells = lines[at].split(b";")
        place = drawn.randrange(len(cells))
        other = drawn.choice(drawn_table(drawn).split(b"\n")[1:] or [b""]).split(b";")
        cells[place] = (mutate(cells[place], len(cells[place]) + 6) if drawn.random() < 0.5
                        else drawn.choice(other))
        lines[at] = b";".join(cells)
        return b"\n".join([head, *lines])[:most]

    return change
