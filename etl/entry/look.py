"""Look at an uploaded file as `braidlife check` does, in a process with limits; nothing is kept."""

from __future__ import annotations

import csv
import json
import os
import re
import resource
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from etl.errors import InputError
from etl.load.folders import MAPPING
from etl.load.readers import SUFFIXES
from etl.load.recognise import recognise

LARGEST = 32_000_000
"""Bytes of a file that can be looked at in a page; the command takes any."""
LONGEST_S = 90
MEMORY_BYTES = 3_000_000_000
"""Address space, of which the database claims more than it uses."""
LONGEST_NAME = 120
LONGEST_TEXT = 600
"""Signs of a cell or a message that are handed over; a cell can hold a whole file."""
BOOK = re.compile(rf'"(?:[^"\\]|\\.){{{LONGEST_TEXT},}}')
N_REFUSED = 100
"""Refused rows of each file that are handed over; all are counted."""
REGISTER = "service_points.csv"
TOO_MUCH = ("it needs more time or memory than a page gives it. Check it with `braidlife check` on "
            "the machine itself.")


def safe_name(name: str) -> str:
    r"""Return a file name without folders and signs that are no text.

    Raises
    ------
    InputError
        It has none of the endings that logs have.

    Examples
    --------
    >>> safe_name("../../etc/replacements_2026.csv"), safe_name("C:\\logs\\usage.tsv")
    ('replacements_2026.csv', 'usage.tsv')
    """
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    plain = "".join(sign for sign in last if sign.isprintable()).strip().lstrip(".~")
    ending = Path(plain).suffix.lower()
    if ending not in SUFFIXES or ending == ".txt" or len(plain) <= len(ending):
        raise InputError("check: the file must end in .csv, .tsv, .xlsx, .xls or .parquet. Save it "
                         "as one of them.")
    return plain[-LONGEST_NAME:].lstrip(".~")


def look(name: str, content: bytes, places: Iterable[str] = ()) -> dict[str, Any]:
    """Return what `braidlife check` says about a file.

    Parameters
    ----------
    name : str
        As the browser gives it; it only serves to recognise the log.
    content : bytes
    places : iterable of str
        Service points of the store, by which the rows of a log of events are checked.

    Returns
    -------
    dict
        The report of the command about this file alone, with at most `N_REFUSED` refused rows.

    Raises
    ------
    InputError
        Wrong ending, too large, or more than the limits allow.
    """
    shown = safe_name(name)
    if len(content) > LARGEST:
        raise InputError(f"{shown}: at most {LARGEST / 1e6:.0f} MB can be looked at here. Check it "
                         "with `braidlife check` on the machine itself.")
    with tempfile.TemporaryDirectory(prefix="braidlife-") as folder:
        path = Path(folder) / "in" / shown
        path.parent.mkdir()
        path.write_bytes(content)
        _write_register(path, places)
        return _looked(shown, path, folder)


def look_over(files: Sequence[Path], mapping: str, places: Sequence[str]) -> dict[str, Any]:
    """Return what `braidlife check` says about files together, under a mapping.

    Parameters
    ----------
    files : sequence of Path
        Of different names.
    mapping : str
        Text of ``columns.toml``; may be empty.
    places : sequence of str
        Service points that rows may name although no file holds them.

    Raises
    ------
    InputError
        More than the limits allow, or the mapping cannot be used.
    """
    with tempfile.TemporaryDirectory(prefix="braidlife-") as folder:
        inner = Path(folder) / "in"
        inner.mkdir()
        for file in files:
            (inner / file.name).symlink_to(file.resolve())
        if mapping:
            (inner / MAPPING).write_text(mapping, encoding="utf-8")
        if places and not (inner / REGISTER).exists():
            _write_places(inner / REGISTER, places)
        names = {file.name for file in files}
        report = _looked("the files", inner, folder)
        report["files"] = [file for file in report["files"] if file["file"] in names]
        return report


def _looked(shown: str, path: Path, folder: str) -> dict[str, Any]:
    """Return the report of a process with limits on a file or a folder."""
    out = Path(folder) / "report.json"
    # Temporary files of the readers go into the same folder, so that a kill leaves none.
    environment = {**os.environ, "TMPDIR": folder}
    try:
        done = subprocess.run(
            [sys.executable, "-m", "etl.entry.look", str(path), str(out), str(MEMORY_BYTES)],
            cwd=Path(__file__).resolve().parents[2], env=environment, timeout=LONGEST_S,
            stdin=subprocess.DEVNULL, capture_output=True, check=False)
    except subprocess.TimeoutExpired as exc:
        raise InputError(f"{shown}: {TOO_MUCH}") from exc
    if done.returncode or not out.is_file():
        raise InputError(f"{shown}: {TOO_MUCH}")
    report: dict[str, Any] = json.loads(out.read_text(encoding="utf-8"))
    if "error" in report:
        raise InputError(str(report["error"]))
    return report


def _write_register(path: Path, places: Iterable[str]) -> None:
    """Put the store's places beside a file, unless it is a register of places itself."""
    register = path.with_name(REGISTER)
    try:
        is_register = any(feed.log.name == register.stem for feed in recognise(path.name, None))
    except InputError:
        is_register = False
    named = [[place, "any"] for place in sorted(set(places))]
    if is_register or not named:
        return
    _write_places(register, [place for place, _ in named])


def _write_places(register: Path, places: Iterable[str]) -> None:
    """Write a register of places of any class."""
    with register.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(
            [["service_point", "application_class"], *([place, "any"] for place in places)])


def _child(path: Path, out: Path, memory_bytes: int) -> None:
    """Check a file, or all of a folder, within the limits and write the report."""
    # Imported here: the server that starts this process needs neither.
    from etl.load.check import check_path
    from etl.load.trial_run import try_rows

    os.nice(5)
    resource.setrlimit(resource.RLIMIT_AS, (memory_bytes, memory_bytes))
    resource.setrlimit(resource.RLIMIT_CPU, (LONGEST_S, LONGEST_S))
    try:
        top = path if path.is_dir() else path.parent
        found = check_path(top)
        try_rows(top, found)
        report = found.as_dict()
        if not path.is_dir():
            report["files"] = [file for file in report["files"] if file["file"] == path.name]
        names = {file["file"] for file in report["files"]}
        refused = [row for row in report["refused"] if row["source_file"] in names]
        report |= {"n_faults": len(refused), "refused": _first(refused)}
    except InputError as exc:
        report = {"error": str(exc)}
    for file in report.get("files", ()):
        if long := [look["name"] for look in file["columns"] if len(look["name"]) > LONGEST_TEXT]:
            file["messages"] = [f"{file['file']}: the name of column {long[0][:20]!r}... has"
                                f" {len(long[0]):,} signs; pages take {LONGEST_TEXT}. Shorten it in"
                                " the file."]
    # A proposal is handed over whole, but for lines that quote a cell as long as a book.
    proposal = "".join(line for line in str(report.get("proposal", "")).splitlines(keepends=True)
                       if not BOOK.search(line))
    out.write_text(json.dumps(_cut(report) | {"proposal": proposal}, default=str), encoding="utf-8")


def _first(refused: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the first refused rows of each file."""
    seen: Counter[str] = Counter()
    out = []
    for row in refused:
        seen[row["source_file"]] += 1
        if seen[row["source_file"]] <= N_REFUSED:
            out.append(row)
    return out


def _cut(item: Any) -> Any:
    """Return a report whose texts are cut to a length that a page can take."""
    if isinstance(item, str):
        return item[:LONGEST_TEXT]
    if isinstance(item, dict):
        return {str(name)[:LONGEST_TEXT]: _cut(value) for name, value in item.items()}
    return [_cut(value) for value in item] if isinstance(item, (list, tuple)) else item


if __name__ == "__main__":
    _child(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]))
