"""What the fuzzing tries: one function a target, its first inputs, and how workbooks are changed.

The first byte of an input chooses the log, the second how the file is declared; the rest is the
file. A target returns the seconds of processing that its input may take.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import io
import json
import random
import tempfile
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest import mock

import duckdb

from etl.errors import InputError, StoreError
from etl.load import archive, workbook
from etl.load.book import ProtectedError
from etl.load.check import check_path
from etl.load.columns import LOGS
from etl.load.entered import batches, journal_path, parse_journal
from etl.load.mapping import parse_mapping
from etl.load.typing import build_clean, build_lives
from etl.load.workbook_child import Sheet, _open
from tests.bench.fuzz import SECONDS_FREE, SECONDS_PER_MB
from tests.bench.fuzz_mapping import FULL, LOOSE
from tests.load.conftest import Site
from tests.load.hostile import DAYS, IGNORED, NUMBERS, TEXTS
from tests.load.new_workbook import book
from tests.load.old_workbook import old_book
from tests.load.test_hostile_texts import REGISTER, empty_site, holds

NAMES = sorted(LOGS)
MAPPINGS = (
    "", "", 'decimal = ","\nthousands = "."\ndate_formats = ["%d.%m.%Y", "%d.%m.%y"]',
    'date_formats = ["%m/%d/%Y", "%Y%m%d"]\nno_date = ["9999-12-31", "x"]\nencoding = "cp1252"',
    "header_row = 2", 'delimiter = ";"\nencoding = "utf-8"',
    'date_formats = ["%d %b %Y %H:%M"]\ntwo_digit_year_pivot = 30', "header_row = 1",
    'encoding = "utf-16"', 'encoding = "ascii"\ndelimiter = "\\t"')
LARGE = 2_000_000
"""Bytes that `repeated` fills."""


def account(site: Site, name: str, log: str, content: bytes, declared: str,
            is_whole: bool) -> float:
    """Load one file beside a register and check the account of its rows."""
    site.write("service_points.csv", REGISTER)
    site.write(name, content)
    if declared:
        site.write("columns.toml", f'[[file]]\nmatch = "{name}"\nlog = "{log}"\n{IGNORED}\n'
                                   f"{declared}\n")
    if not is_whole:
        site.load()
        assert site.is_balanced(), "rows without account"
        return SECONDS_FREE + SECONDS_PER_MB * len(content) / 1e6
    holds(site)
    report = check_path(site.logs)
    parse_mapping(report.proposal)
    assert report.text()
    return SECONDS_FREE


def _parted(data: bytes) -> tuple[str, str, bytes]:
    """Return log, declaration and content of an input."""
    head = data[:2].ljust(2, b"\0")
    return NAMES[head[0] % len(NAMES)], MAPPINGS[head[1] % len(MAPPINGS)], data[2:]


def texts(data: bytes, is_whole: bool) -> float:
    """Delimited text."""
    log, declared, content = _parted(data)
    with empty_site() as site:
        return account(site, f"{log}_north.csv", log, content, declared, is_whole)


def repeated(data: bytes, is_whole: bool) -> float:
    """Delimited text of some megabytes: a beginning, then one piece over and over, then an end."""
    log, declared, content = _parted(data)
    third = max(1, len(content) // 3)
    start, piece, end = content[:third], content[third:2 * third], content[2 * third:]
    large = start + piece * (LARGE // max(1, len(piece))) + end
    with empty_site() as site:
        return account(site, f"{log}_north.csv", log, large, declared, False)


def parquet(data: bytes, is_whole: bool) -> float:
    """Parquet, mostly damaged."""
    log, declared, content = _parted(data)
    with empty_site() as site:
        return account(site, f"{log}_north.parquet", log, content, declared, is_whole)


def _in_process(request_file: Path, result_file: Path, file: str) -> dict[str, Any]:
    """Read a workbook here, so that coverage is seen; what breaks its reader is a refused file."""
    request = json.loads(request_file.read_text(encoding="utf-8"))
    try:
        opened = _open(request["path"], is_old=request["is_old"])
    except (Exception, ProtectedError) as exc:
        if isinstance(exc, InputError):
            raise
        raise InputError(f"{file}: the workbook is damaged.") from exc
    try:
        told = Sheet(request).read(opened)
    except (InputError, MemoryError):
        raise
    except Exception as exc:
        # Our own code broke, not a library that reads the form and has errors of its own.
        if "/etl/" in _last_file(exc) and type(exc).__module__ == "builtins":
            raise
        raise InputError(f"{file}: the workbook is damaged.") from exc
    result: dict[str, Any] = json.loads(json.dumps(told))
    return result


def _last_file(exc: BaseException) -> str:
    """Return the file of the innermost frame of an error."""
    at, last = exc.__traceback__, ""
    while at is not None:
        last, at = at.tb_frame.f_code.co_filename, at.tb_next
    return last


def _books(ending: str) -> Callable[[bytes, bool], float]:
    """Return the target of workbooks of one form."""

    def target(data: bytes, is_whole: bool) -> float:
        log, declared, content = _parted(data)
        with empty_site() as site, mock.patch.object(workbook, "_run", _in_process):
            return account(site, f"{log}_north.{ending}", log, content, declared, is_whole)

    return target


def mapping(data: bytes, is_whole: bool) -> float:
    """A mapping file; now and then small logs are read by it."""
    text = data.decode("utf-8", "replace")
    try:
        parse_mapping(text)
        said = "columns.toml"
    except InputError as exc:
        said = str(exc)
        is_whole = False
    assert said.startswith("columns.toml"), said
    if is_whole:
        with empty_site() as site:
            site.write("service_points.csv", REGISTER)
            for log in NAMES:
                site.write(f"{log}_a.csv", LOOSE.replace("H1", f"H1-{log}"))
            site.write("columns.toml", text)
            holds(site)
    return SECONDS_FREE


def journal(data: bytes, is_whole: bool) -> float:
    """A journal of entries: every line is an entry, a copy of one, or torn; all come to a load."""
    found = parse_journal(data)
    lines = [line for line in data.split(b"\n") if line]
    assert len(found.entries) + len(found.torn) + len(found.repeated) == len(lines), "lines lost"
    log = LOGS["inspections"]
    loads = batches(log, found)
    assert sum(len(load.entries) + len(load.torn) for load in loads) == (
        len(found.entries) + len(found.torn)), "entries without a load"
    if is_whole and found.entries:
        with empty_site() as site:
            site.write("service_points.csv", REGISTER)
            journal_path(site.store, log.name).parent.mkdir(parents=True)
            journal_path(site.store, log.name).write_bytes(data)
            site.load()
            n_rows = site.rows(f"select count(*) from raw.{log.name}")[0][0]
            assert n_rows == sum(load.n_rows for load in loads), "rows lost"
            with contextlib.suppress(InputError):  # no day can be read
                build_lives(site.con, build_clean(site.con, site.groups))
    else:
        for load in loads:
            dt.date.fromisoformat(load.day)
    return SECONDS_FREE


def register(data: bytes, is_whole: bool) -> float:
    """The register of the archive: what cannot be read is said, never a file taken for another."""
    with empty_site() as site:
        site.store.mkdir()
        (site.store / archive.REGISTER).write_bytes(data)
        try:
            found = archive.registered(site.store)
        except StoreError:
            return SECONDS_FREE
        assert len({item.load_id for item in found}) == len(found)
        for item in found:
            with contextlib.suppress(StoreError):
                archive.archived(site.store, item)
        site.write("installations.csv", REGISTER)
        new = archive.add(site.store, site.logs, dt.date(2026, 1, 1))
        after = archive.registered(site.store)
        assert set(found) <= set(after), "a file is gone"
        assert len(after) == len(found) + (new[0].status == "new"), "a file is gone"
    return SECONDS_FREE


TARGETS: dict[str, Callable[[bytes, bool], float]] = {
    "texts": texts, "books": _books("xlsx"), "old_books": _books("xls"), "parquet": parquet,
    "repeated": repeated, "mapping": mapping, "journal": journal, "register": register}


def _rows(log: str, number: int) -> list[list[str]]:
    """Return a small table of a log: one likely row and some odd ones, the same every time."""
    drawn = random.Random(number)
    names = list(LOGS[log].names)[:8]
    likely = {"date": "2020-01-31", "yes_no": "yes", "tag": "P1", "text": "steam"}
    plain = [LOGS[log].column(name).words[0] if LOGS[log].column(name).words
             else likely.get(LOGS[log].column(name).kind, "1") for name in names]
    odd = [[drawn.choice((*DAYS, *NUMBERS, *TEXTS)) if drawn.random() < 0.3 else cell
            for cell in plain] for _ in range(4)]
    return [names, plain, *odd]


def seeds(target: str) -> list[bytes]:
    """Return the first inputs of a target."""
    if target == "mapping":
        plain = (f'[[file]]\nmatch = "*.csv"\nlog = "{log}"\n{text}\n[file.words.reason]\n'
                 'BRKDN = "failed"\n[file.units]\ndn = "in"\n[file.columns]\nhose_id = "Tag"\n'
                 for log, text in zip(NAMES, MAPPINGS, strict=False))
        return [FULL.encode(), *(text.encode() for text in plain)]
    if target == "register":
        line = (b'{"load_id": 1, "source_file": "parts.csv", "sha256": "' + b"0" * 64 + b'", '
                b'"size_bytes": 9, "mapping_sha256": null, "loaded_on": "2026-01-01"}')
        return [line + b"\n", line, line + b"\n" + line.replace(b": 1,", b": 2,"), line[:40]]
    if target == "journal":
        line = (b'{"entry_id": "a", "who": "x", "at": "2026-01-01T08:00", "rows": [{"note": "n"}],'
                b' "about": {"record": 1}}\n')
        return [line, line + line, line[:40] + b"\n" + line]
    made = []
    for number, log in enumerate(NAMES):
        for marks in range(len(MAPPINGS)):
            rows = _rows(log, 10 * number + marks)
            made.append(bytes([number, marks]) + _written(target, rows, marks))
    return made


def _written(target: str, rows: list[list[str]], marks: int) -> bytes:
    """Return a table in the form of a target."""
    if target == "books":
        shown = [["".join(filter(str.isprintable, cell)) for cell in row] for row in rows]
        return book(shown)
    if target == "old_books":
        return old_book({"A": [list(row) for row in rows]})
    if target == "parquet":
        return _as_parquet(rows)
    text = "".join(",;\t|"[marks % 4].join(row) + ("\n", "\r\n")[marks % 2] for row in rows)
    return text.encode(("utf-8", "utf-16", "cp1252", "utf-8-sig")[marks % 4], "replace")


def _as_parquet(rows: list[list[str]]) -> bytes:
    """Return a Parquet file of texts."""
    names, *cells = rows
    columns = ", ".join(f"unnest(${name}::varchar[]) as {name}" for name in names)
    with tempfile.TemporaryDirectory() as folder, duckdb.connect() as con:
        path = Path(folder) / "made.parquet"
        con.execute(f"copy (select {columns}) to '{path}' (format parquet)",
                    dict(zip(names, map(list, zip(*cells, strict=True)), strict=True)))
        return path.read_bytes()


def parts_mutator(mutate: Callable[[bytes, int], bytes]) -> Callable[[bytes, int, int], bytes]:
    """Return what changes a workbook inside one of its parts: a package itself has checksums."""

    def change(data: bytes, most: int, seed: int) -> bytes:
        drawn = random.Random(seed)
        try:
            with zipfile.ZipFile(io.BytesIO(data[2:])) as old:
                parts = {name: old.read(name) for name in old.namelist()}
            chosen = drawn.choice([name for name in parts if parts[name]])
        except (zipfile.BadZipFile, OSError, ValueError, IndexError, NotImplementedError,
                RuntimeError, EOFError, zlib.error):
            return mutate(data, most)
        if drawn.random() < 0.1:
            return mutate(data, most)
        parts[chosen] = mutate(parts[chosen], len(parts[chosen]) + 200)
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
            for name, part in parts.items():
                new.writestr(name, part)
        head = bytes([data[0], drawn.randrange(256)]) if drawn.random() < 0.3 else data[:2]
        return (head + out.getvalue())[:most]

    return change
