"""Fuzzing targets of what a mapping says of days, numbers and rows, and of what check proposes.

An input is text: one line of head, then a table, its cells parted by semicolons.
"""

from __future__ import annotations

import contextlib
import glob
import random
import re
from collections import Counter
from dataclasses import replace

from etl.errors import InputError
from etl.load.check import check_path, write_proposal
from etl.load.columns import LOGS
from etl.load.extract import folded
from etl.load.look import Look, look
from etl.load.mapping import FileEntry, parse_mapping
from etl.load.plan import make_plan
from etl.load.propose import guess_log, propose_mapping
from etl.load.quoting import BLANK_SIGNS, literal, quoted
from etl.load.recognise import recognise
from etl.load.trial_run import try_rows
from tests.bench.fuzz import SECONDS_FREE
from tests.bench.fuzz_cells import expected_day, expected_number, follows, read
from tests.load.test_hostile_texts import REGISTER, empty_site, holds

FILE = "book [1].csv"
Table = list[list[str]]


def table_of(data: bytes) -> tuple[str, Table]:
    """Return head and table of an input; every row as wide as the header."""
    head, *lines = data.decode("utf-8", "replace").replace("\0", "").splitlines() or [""]
    rows = [line.split(";")[:12] for line in lines[:60]] or [["a"]]
    width = len(rows[0])
    return head, [[*row, *[""] * width][:width] for row in rows]


def looks_of(table: Table) -> list[Look]:
    """Return the looks of the columns of a table."""
    names, *rows = table
    out = []
    for position, name in enumerate(names):
        cells = [row[position] for row in rows if row[position]]
        counts = Counter(cell for cell in cells if cell.strip(" "))
        values = sorted(counts.items(), key=lambda pair: (-pair[1], pair[0]))
        found = look(name or f"column {position + 1}", values, len(cells), len(counts))
        out.append(replace(found, is_named=bool(name)))
    return out


def cells_of(table: Table, name: str) -> list[str]:
    """Return the different cells of a column without outer blanks."""
    at = [item or f"column {n}" for n, item in enumerate(table[0], start=1)].index(name)
    return [*dict.fromkeys(cell for row in table[1:] if (cell := row[at].strip(BLANK_SIGNS)))]


def entry_of(head: str) -> FileEntry:
    """Return the declaration in a head: forms, names of months, calendar, pivot, marks."""
    parts = [*head.split("|"), *[""] * 6][:6]
    months = dict(pair.split("=") for pair in parts[1].split(",") if pair.count("=") == 1)
    return FileEntry.model_validate({
        "match": "a", "log": "installations",
        "date_formats": [item for item in parts[0].split("~") if item],
        "months": {name: int(number) for name, number in months.items()},
        "serial_days_from": int(parts[2]) if parts[2] else None,
        "two_digit_year_pivot": int(parts[3] or 30), "decimal": parts[4][:1] or ".",
        "thousands": parts[4][1:]})


def typed(data: bytes, is_whole: bool) -> float:
    """Days and numbers under any declaration, held against a reading by other means."""
    head, table = table_of(data)
    try:
        entry = entry_of(head)
    except ValueError:
        return SECONDS_FREE
    if entry.decimal == entry.thousands:
        return SECONDS_FREE
    options = entry.options()
    cells = [*dict.fromkeys(cell for row in table for item in row
                            if (cell := item.strip(BLANK_SIGNS)))]
    for ours, expected in (("installed_on", expected_day), ("part_cost", expected_number)):
        for cell, value in read(ours, cells, options).items():
            wanted = expected(cell, options)
            assert wanted is ... or value == wanted, f"{head}: {cell!r} {value} not {wanted}"
    return SECONDS_FREE


def proposed(data: bytes, is_whole: bool) -> float:
    """A proposed mapping reads the cells by which it was proposed, and the rows as it was tried."""
    _, table = table_of(data)
    looks = looks_of(table)
    log = guess_log(FILE, looks) or LOGS["installations"]
    mapping = parse_mapping(propose_mapping(FILE, log, looks))
    (entry,) = mapping.file
    by_name = {look.name: look for look in looks}
    for ours, (theirs,) in entry.sources().items():
        assert theirs in table[0], f"{theirs!r} is no column"
        kind, seen = log.column(ours).kind, by_name[theirs]
        found = read(ours, cells_of(table, theirs), entry.options())
        unread = [cell for cell, value in found.items() if value is None]
        if kind == "date" and seen.looks_like == "days":
            bad = [cell for cell in unread if any(
                follows(cell, form, entry.months) for form in entry.date_formats)]
            assert not bad or len(entry.date_formats) > 1, f"{bad} under {entry.date_formats}"
    with contextlib.suppress(InputError):  # a required column is not there
        make_plan(FILE, recognise(FILE, mapping)[0], tuple(table[0]), recognise(FILE, mapping))
    if is_whole:
        _tried_and_written(table)
    return SECONDS_FREE


def _tried_and_written(table: Table) -> None:
    """Check a file twice, the second time under what the first proposed."""
    with empty_site() as site:
        site.write("service_points.csv", REGISTER)
        site.write(FILE, "\n".join(map(";".join, table)))
        first = check_path(site.logs)
        try_rows(site.logs, first)
        if not write_proposal(site.logs, first):
            return
        second = check_path(site.logs)
        try_rows(site.logs, second)
        told = [[file.rows for file in report.files] for report in (first, second)]
        assert told[0] == told[1], f"{told[0]} then {told[1]}"
        assert first.refused == second.refused
        holds(site)


PATTERNS = (r"\S", "(?i)hose|leak", "^P", "x|y", "1$", r"\d{2}", "[^.]")
ODD_PATTERNS = ("(?<=a)b", r"(a)\1", r"\p{L}", "(?P<n>a)", "[[:alpha:]]", r"\Z", "(?x) a",
                "a{1,2000}", "(?a)a", r"\u0041", "(?#x)a", "a(?=b)", "(?>a)", "a++",
                r"\N{DASH}", "(?:)" * 9)
"""Some that only one of the two languages of patterns knows."""


def kept(data: bytes, is_whole: bool) -> float:
    """Rows that a mapping keeps and skips: each is counted, as a search of its own finds it."""
    head, table = table_of(data)
    drawn, names = random.Random(head), [name for name in table[0] if name.strip()]
    if len(set(map(folded, names))) < len(table[0]):
        return SECONDS_FREE
    is_odd = drawn.random() < 0.3
    pattern = {drawn.choice(names): drawn.choice(ODD_PATTERNS if is_odd else PATTERNS)}
    skipped = drawn.choice(names)
    cells = drawn.sample(cells_of(table, skipped) or [""], 1) + drawn.choice([[], [""]])
    lines = [f"match = {quoted(glob.escape(FILE))}", 'log = "installations"', 'ignore = ["*"]',
             "[file.columns]", f"installed_on = {quoted(names[0])}", "[file.constants]",
             'service_point = "P1"', "[file.keep]",
             *(f"{quoted(name)} = {quoted(text)}" for name, text in pattern.items())]
    if drawn.random() < 0.6:
        lines += ["[file.skip]", f"{quoted(skipped)} = [{', '.join(map(quoted, cells))}]"]
    else:
        cells = []
    text = "\n".join(["[[file]]", *lines])
    try:
        parse_mapping(text)
    except InputError:
        assert is_odd, text
        return SECONDS_FREE
    with empty_site() as site:
        site.write("service_points.csv", REGISTER)
        site.write(FILE, "\n".join(map(";".join, table)))
        site.write("columns.toml", text)
        holds(site)
        told = site.rows("select n_records, n_blank, n_skipped, n_left_out, status from raw.loads"
                         f" where source_file = {literal(FILE)}")
    n_records, n_blank, n_skipped, n_left_out, status = told[0]
    rows = [dict(zip(table[0], row, strict=True)) for row in table[1:]]
    rows = [row for row in rows if any(cell.strip(BLANK_SIGNS) for cell in row.values())]
    if status == "loaded" and not is_odd and n_records - n_blank - 1 == len(rows) and (
            n_skipped == n_left_out):
        n_left = sum(not all(re.search(text, row[name].strip(BLANK_SIGNS), re.ASCII)
                             for name, text in pattern.items())
                     or (bool(cells) and row[skipped].strip(BLANK_SIGNS) in cells) for row in rows)
        assert n_left == n_left_out, f"{n_left_out} left out, not {n_left}: {lines}"
    return SECONDS_FREE
