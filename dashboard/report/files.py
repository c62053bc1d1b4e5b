"""Write the report of a month into a folder or as one file; on paper where a Chromium is found."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

import flask

from dashboard.queries import edition
from dashboard.report.book import month_book
from dashboard.report.page import month_page

NAMES = ("chromium", "chromium-browser")
PRINT_SECONDS = 120
NO_CHROMIUM = (
    "No PDF: no Chromium was found. Install one, name its program in BRAIDLIFE_CHROMIUM, or print "
    "the HTML file from any browser."
)


@dataclass(frozen=True)
class Report:
    """What was written.

    Attributes
    ----------
    files : tuple of Path
    note : str
        Why there is no PDF; empty where there is one.
    """

    files: tuple[Path, ...]
    note: str


def write_report(store: Path, out: Path) -> Report:
    """Write the report of the month of a store's current edition.

    Parameters
    ----------
    store : Path
        Folder of the store.
    out : Path
        A name that ends in .html, .xlsx or .pdf: that file alone. Else a folder for all three, made
        when missing. What is there is replaced.

    Returns
    -------
    Report

    Raises
    ------
    EditionError
        The store holds no edition that can be read.
    OSError
        The folder cannot be written.
    """
    kind = out.suffix.lower()
    app = flask.Flask("report")
    edition.install(app, store)
    with app.app_context():
        month = edition.info()["as_of"].strftime("%Y-%m")
        if kind == ".xlsx":
            return Report((_put(_with_folder(out), month_book()),), "")
        page = month_page().encode()
        if kind == ".html":
            return Report((_put(_with_folder(out), page),), "")
        if kind == ".pdf":
            return _paper_alone(page, _with_folder(out))
        book = month_book()
    out.mkdir(parents=True, exist_ok=True)
    stem = out / f"braidlife-{month}"
    written = [_put(stem.with_suffix(".html"), page),
               _put(stem.with_suffix(".xlsx"), book)]  # fmt: skip
    program = find_chromium()
    note = print_page(program, written[0], stem.with_suffix(".pdf")) if program else NO_CHROMIUM
    return Report((*written, *(() if note else (stem.with_suffix(".pdf"),))), note)


def _paper_alone(page: bytes, out: Path) -> Report:
    """Print the page without leaving it behind."""
    program = find_chromium()
    with tempfile.TemporaryDirectory() as aside:
        file = _put(Path(aside) / "report.html", page)
        note = print_page(program, file, out) if program else NO_CHROMIUM
    return Report(() if note else (out,), note)


def _with_folder(path: Path) -> Path:
    """Return a file's path, its folder made."""
    path.parent.mkdir(parents=True, exist_ok=True)
    return path


def find_chromium() -> str | None:
    """Return the program of a Chromium on this machine, None when there is none."""
    named = os.environ.get("BRAIDLIFE_CHROMIUM")
    return shutil.which(named) if named else next(filter(None, map(shutil.which, NAMES)), None)


def print_page(program: str, page: Path, out: Path) -> str:
    """Print an HTML file as PDF without a window.

    Returns
    -------
    str
        What went wrong; empty when the file was written.
    """
    out.unlink(missing_ok=True)
    with tempfile.TemporaryDirectory() as profile:
        call = [program, "--headless", "--disable-gpu", "--no-pdf-header-footer",
                f"--user-data-dir={profile}", f"--print-to-pdf={out.resolve()}",
                page.resolve().as_uri()]
        if hasattr(os, "geteuid") and os.geteuid() == 0:  # it refuses its sandbox to root
            call.insert(1, "--no-sandbox")
        try:
            subprocess.run(call, capture_output=True, timeout=PRINT_SECONDS, check=True)
        except (OSError, subprocess.SubprocessError) as exc:
            return f"No PDF: {Path(program).name} did not print ({type(exc).__name__})."
    return "" if out.is_file() else f"No PDF: {Path(program).name} wrote no file."


def _put(path: Path, content: bytes) -> Path:
    """Write a file aside and put it in place when it is whole."""
    aside = path.with_name(path.name + ".part")
    try:
        aside.write_bytes(content)
        os.replace(aside, path)
    finally:
        with contextlib.suppress(OSError):
            aside.unlink()
    return path
