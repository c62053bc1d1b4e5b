"""Read workbooks, guarded: sizes are checked first, then a limited process does the reading."""

from __future__ import annotations

import json
import lzma
import os
import re
import struct
import subprocess
import sys
import zipfile
import zlib
from pathlib import Path
from typing import Any

from etl.errors import InputError
from etl.load.delimited import Job, load_numbered
from etl.load.extract import Correction, Extract
from etl.paths import HERE

LARGEST_UNPACKED = 2_000_000_000
"""Bytes of all parts of a workbook; an honest million rows unpack to about a tenth of it."""
LARGEST_RATIO = 100
"""Unpacked over packed; honest workbooks stay below 10, hostile ones reach 1,000."""
RATIO_FREE = 10_000_000
"""Bytes below which a part may be packed as tightly as it likes."""
LARGEST_SHEET = 50_000_000
"""Cells in the rectangle that a sheet says it fills."""
MEMORY = 2 << 30
"""Address space of the reading process, bytes."""
LONGEST_SECONDS = 900
BROKEN = 1
"""Exit status of the reading process where an error that nobody foresaw has ended it."""
DAMAGED = (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, OSError, ValueError,
           OverflowError, struct.error, zlib.error, lzma.LZMAError)
"""What opening and unpacking a package can end in: each packing has an error of its own."""
DIMENSION = re.compile(rb'<(?:\w+:)?dimension ref="[A-Z]+\d+:([A-Z]+)(\d+)"')


def read_workbook(job: Job, *, is_old: bool = False) -> Extract:
    """Read one sheet of a workbook as text.

    Parameters
    ----------
    job : Job
    is_old : bool
        True where the file has the old binary form rather than a package of XML parts.

    Returns
    -------
    Extract
        Days in ISO form, whole numbers without a point, what was put right as corrections.

    Raises
    ------
    InputError
        The workbook is damaged, protected, too large, or has no header.
    """
    if not is_old:
        _guard(job)
    kept, result_file = job.folder / f"{job.table}.rows", job.folder / f"{job.table}.result"
    request = {
        "path": str(job.path), "file": job.file, "is_old": is_old, "sheet": job.dialect.sheet,
        "header_row": job.dialect.header_row, "serial_days_from": job.dialect.serial_days_from,
        "wanted": {key: sorted(names) for key, names in vars(job.wanted).items()},
        "kept": str(kept), "result": str(result_file), "limit_bytes": MEMORY,
    }
    request_file = job.folder / f"{job.table}.request"
    request_file.write_text(json.dumps(request), encoding="utf-8")
    try:
        result = _run(request_file, result_file, job.file)
        load_numbered(job, kept, None, len(result["header"]))
    finally:
        for path in (request_file, result_file, kept):
            path.unlink(missing_ok=True)
    n_above = result["record"] - 1
    corrections = [Correction(*item) for item in result["corrections"]]
    if n_above:
        corrections.append(Correction(None, "rows above the header left out", n_above))
    return Extract(job.table, job.faults, tuple(result["header"]), "source_row",
                   result["n_records"], result["n_blank"], n_above, corrections,
                   sheets=tuple(result["sheets"]))


def _run(request_file: Path, result_file: Path, file: str) -> dict[str, Any]:
    """Run the reading process and return its result."""
    root = str(HERE.parent)
    paths = [root, *filter(None, [os.environ.get("PYTHONPATH")])]
    too_large = InputError(
        f"{file}: the workbook needs more than {MEMORY >> 30} GB of memory or"
        f" {LONGEST_SECONDS // 60} minutes to read. Save the sheet as CSV."
    )
    try:
        ended = subprocess.run(
            [sys.executable, "-m", "etl.load.workbook_child", str(request_file)],
            env={**os.environ, "PYTHONPATH": os.pathsep.join(paths)}, check=False,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, timeout=LONGEST_SECONDS,
        )
    except subprocess.TimeoutExpired as exc:
        raise too_large from exc
    if not result_file.is_file():
        if ended.returncode == BROKEN:
            raise InputError(
                f"{file}: the workbook is damaged, of an unusual kind, or protected by a password."
                " Save it as XLSX or CSV, without a password."
            )
        raise too_large
    result: dict[str, Any] = json.loads(result_file.read_text(encoding="utf-8"))
    if "error" in result:
        raise InputError(result["error"])
    return result


def _guard(job: Job) -> None:
    """Refuse a workbook whose own directory announces too much."""
    try:
        with zipfile.ZipFile(job.path) as book:
            parts = book.infolist()
            sheets = [part.filename for part in parts
                      if "worksheets" in part.filename and part.filename.endswith(".xml")]
            size = sum(part.file_size for part in parts)
            worst = max((part.file_size / max(part.compress_size, 1) for part in parts
                         if part.file_size > RATIO_FREE), default=0.0)
            if size > LARGEST_UNPACKED or worst > LARGEST_RATIO:
                raise InputError(
                    f"{job.file}: unpacks to {size:,} bytes, up to {worst:.0f} times its packed"
                    " size, as no honest workbook does. Save the sheet as CSV."
                )
            for sheet in sheets:
                with book.open(sheet) as xml:
                    _check_dimension(job.file, xml.read(4096))
    except DAMAGED as exc:
        raise InputError(
            f"{job.file}: the workbook is damaged or cut short. Save it again."
        ) from exc


def _check_dimension(file: str, head: bytes) -> None:
    """Refuse a sheet whose announced rectangle is too large."""
    found = DIMENSION.search(head)
    if found is None:
        return
    width = 0
    for letter in found[1]:
        width = width * 26 + letter - 64
    cells = width * int(found[2])
    if cells > LARGEST_SHEET:
        raise InputError(
            f"{file}: a sheet spans {cells:,} cells, more than {LARGEST_SHEET:,}. Delete the"
            " empty rows and columns, or save the sheet as CSV."
        )
