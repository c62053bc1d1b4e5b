"""Write small workbooks of the old binary form, byte by byte: no library makes hostile ones."""

from __future__ import annotations

import datetime as dt
import struct
from collections.abc import Sequence

SECTOR = 512
FREE, END, FAT = 0xFFFFFFFF, 0xFFFFFFFE, 0xFFFFFFFD
FORMATS = {164: "yyyy-mm-dd", 165: "0000"}
GENERAL, DAY, ZEROS = 0, 1, 2
"""Cell styles: numbers of the XF records below."""
EPOCHS = {False: dt.datetime(1899, 12, 30), True: dt.datetime(1904, 1, 1)}


class Error(int):
    """Code of an error cell, such as 42 for #N/A."""


class Zeros(float):
    """A number shown with four digits."""


def record(code: int, data: bytes = b"") -> bytes:
    return struct.pack("<HH", code, len(data)) + data


def text(value: str, length: str = "<H") -> bytes:
    return struct.pack(length, len(value)) + b"\x01" + value.encode("utf-16-le")


def cell(row: int, column: int, value: object, starts_1904: bool) -> bytes:
    place = struct.pack("<HH", row, column)
    if value is None:
        return record(0x0201, place + struct.pack("<H", GENERAL))  # a style without a value
    if isinstance(value, (bool, Error)):
        is_error = isinstance(value, Error)
        return record(0x0205, place + struct.pack("<HBB", GENERAL, int(value), is_error))
    if isinstance(value, str):
        return record(0x0204, place + struct.pack("<H", GENERAL) + text(value))
    style, number = GENERAL, value
    if isinstance(value, dt.datetime):
        style, number = DAY, (value - EPOCHS[starts_1904]).total_seconds() / 86_400
    elif isinstance(value, Zeros):
        style = ZEROS
    return record(0x0203, place + struct.pack("<Hd", style, number))


Sheets = dict[str, Sequence[Sequence[object]]]
Spans = Sequence[tuple[int, int, int, int]]


def old_book(sheets: Sheets, *, starts_1904: bool = False, hidden: Sequence[str] = (),
             merged: Spans = ()) -> bytes:
    """Return a workbook; `merged` holds first and last row, first and last column."""
    return container({"Workbook": old_stream(sheets, starts_1904, hidden, merged)})


def old_stream(sheets: Sheets, starts_1904: bool = False, hidden: Sequence[str] = (),
               merged: Spans = ()) -> bytes:
    """Return the records of a workbook without the container around them."""
    bodies = []
    for rows in sheets.values():
        body = record(0x0809, struct.pack("<HHHHII", 0x0600, 0x0010, 0, 1997, 0, 6))
        for number, cells in enumerate(rows):
            body += b"".join(cell(number, column, value, starts_1904)
                             for column, value in enumerate(cells))
        if merged:
            body += record(0x00E5, struct.pack("<H", len(merged)) + b"".join(
                struct.pack("<HHHH", *span) for span in merged))
        bodies.append(body + record(0x000A))
    head = record(0x0809, struct.pack("<HHHHII", 0x0600, 0x0005, 0, 1997, 0, 6))
    head += record(0x0042, struct.pack("<H", 1200)) + record(0x0022, struct.pack("<H", starts_1904))
    head += record(0x0031, struct.pack("<HHHHHBBBB", 200, 0, 0x7FFF, 400, 0, 0, 0, 0, 0)
                   + text("F", "<B"))
    for key, code in FORMATS.items():
        head += record(0x041E, struct.pack("<H", key) + text(code))
    for key in (0, *FORMATS):
        head += record(0x00E0, struct.pack("<HHH", 0, key, 0x0001) + bytes(14))
    tails = [text(name, "<B") for name in sheets]
    offset = len(head) + sum(4 + 6 + len(tail) for tail in tails) + 4
    for name, tail, body in zip(sheets, tails, bodies, strict=True):
        head += record(0x0085, struct.pack("<IBB", offset, name in hidden, 0) + tail)
        offset += len(body)
    return head + record(0x000A) + b"".join(bodies)


def container(streams: dict[str, bytes]) -> bytes:
    """Return a compound file with these streams, each padded to the size of a large one."""
    n_directory = -(-(len(streams) + 1) // 4)
    padded = [data.ljust(-(-max(len(data), 4096) // SECTOR) * SECTOR, b"\0")
              for data in streams.values()]
    n_data = sum(len(data) // SECTOR for data in padded)
    n_fat = 1
    while n_fat * 128 < n_fat + n_directory + n_data:
        n_fat += 1
    fat = [FAT] * n_fat + [*range(n_fat + 1, n_fat + n_directory), END]
    entries = [entry("Root Entry", 5, END, 0, 1)]
    for number, (name, data) in enumerate(zip(streams, padded, strict=True), start=1):
        start, n_sectors = len(fat), len(data) // SECTOR
        fat += [*range(start + 1, start + n_sectors), END]
        following = number + 1 if number < len(streams) else FREE
        entries.append(entry(name, 2, start, len(data), FREE, following))
    fat += [FREE] * (n_fat * 128 - len(fat))
    head = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(16) + struct.pack(
        "<HHHHH6xIIIIIIIII", 0x3E, 3, 0xFFFE, 9, 6, 0, n_fat, n_fat, 0, 4096, END, 0, END, 0)
    head += struct.pack("<109I", *range(n_fat), *[FREE] * (109 - n_fat))
    directory = b"".join(entries).ljust(n_directory * SECTOR, b"\0")
    return head + struct.pack(f"<{len(fat)}I", *fat) + directory + b"".join(padded)


def entry(name: str, kind: int, start: int, size: int, child: int, right: int = FREE) -> bytes:
    coded = name.encode("utf-16-le") + b"\0\0"
    return coded.ljust(64, b"\0") + struct.pack(
        "<HBBIII36xIII", len(coded), kind, 1, FREE, right, child, start, size, 0)
