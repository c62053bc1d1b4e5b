"""Read any log file into a staging table: what a file is decides its content, not its name."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from etl.errors import InputError
from etl.load.delimited import Job, read_delimited
from etl.load.extract import Extract
from etl.load.parquet import read_parquet
from etl.load.quoting import as_text
from etl.load.workbook import read_workbook

SUFFIXES = (".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".xls", ".parquet", ".ods", ".xlsb")
"""Endings of the files of a folder that are taken for logs; the last two only to be refused."""
WORKBOOKS = (".xlsx", ".xlsm", ".xls")
TEXTS = (".csv", ".tsv", ".txt")


def read(job: Job) -> Extract:
    """Read a CSV, TSV, XLSX, XLS or Parquet file, every cell as text.

    Parameters
    ----------
    job : Job
        What to read and where to put it.

    Returns
    -------
    Extract

    Raises
    ------
    InputError
        One sentence with the file, the row where there is one, and the cure.
    """
    job = _by_text(job)
    suffix = Path(job.file).suffix.lower()
    content = content_of(job.path)
    if content == "empty":
        raise InputError(f"{job.file}: the file is empty. Export it again.")
    if suffix in WORKBOOKS:
        if content in ("zip", "old"):
            return read_workbook(job, is_old=content == "old")
        raise InputError(f"{job.file}: {NOT_A_WORKBOOK[content]}")
    if suffix == ".parquet":
        return read_parquet(job)
    if suffix in TEXTS:
        if content == "text":
            return read_delimited(job)
        raise InputError(
            f"{job.file}: its content is {CONTENT[content]}, not text. Give the file its right"
            " ending, or export it as CSV."
        )
    raise InputError(
        f"{job.file}: files ending in {suffix or 'nothing'} are not read. Save it as XLSX or CSV."
    )


def _by_text(job: Job) -> Job:
    """Give a file another path where bytes of its own are no text: the database takes none such."""
    if as_text(str(job.path)) == str(job.path):
        return job
    link = job.folder / f"{job.table}.link"
    link.unlink(missing_ok=True)
    link.symlink_to(job.path.resolve())
    return replace(job, path=link)


CONTENT = {"zip": "a workbook or archive", "old": "an old or protected workbook",
           "parquet": "Parquet", "page": "a web page or XML"}
NOT_A_WORKBOOK = {
    "text": "its content is text, not a workbook. Rename it to .csv.",
    "page": "its content is a web page or XML, not a workbook. Open it in a spreadsheet program and"
            " save it as XLSX or CSV.",
    "parquet": "its content is Parquet, not a workbook. Rename it to .parquet.",
}


MARKS = {
    "zip": re.compile(rb"PK\x03\x04"),
    # A container of streams, or the bare stream of still older programs.
    "old": re.compile(rb"\xd0\xcf\x11\xe0|\x09[\x00\x02\x04\x08][\x04-\x10]\x00"),
    "parquet": re.compile(rb"PAR1"),
    "page": re.compile(rb"(?i)(?:\xef\xbb\xbf)?\s*<(?:!doctype|html|\?xml|table|meta|head)"),
}


def content_of(path: Path) -> str:
    """Return what the first bytes say: empty, zip, old, parquet, page or text."""
    with path.open("rb") as file:
        head = file.read(512)
    if not head:
        return "empty"
    return next((name for name, mark in MARKS.items() if mark.match(head)), "text")
