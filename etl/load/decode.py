"""Bring a text file into the one form that is parsed: UTF-8 with one kind of line end."""

from __future__ import annotations

import codecs
import io
from dataclasses import dataclass
from pathlib import Path

from etl.errors import InputError
from etl.load.extract import Correction
from etl.load.scan import Scan

BLOCK = 1 << 20
WIDE_MARKS = ((codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
WESTERN = "cp1252"
WESTERN_GAPS = b"\x81\x8d\x8f\x90\x9d"
"""Bytes that cp1252 leaves undefined; a file that has them is read as Latin-1."""


@dataclass(frozen=True)
class Plain:
    """A text file that is ready to be parsed."""

    path: Path
    is_rewritten: bool
    corrections: list[Correction]


def make_plain(path: Path, file: str, declared: str | None, scanned: Scan, target: Path) -> Plain:
    """Rewrite a file as UTF-8 with newlines, unless it already is.

    Parameters
    ----------
    path : Path
        The file as archived.
    file : str
        Its name, for messages.
    declared : str or None
        Encoding from the mapping.
    scanned : Scan
        What the first pass over the bytes found.
    target : Path
        Where to write, if anything has to be changed.

    Returns
    -------
    Plain
        The original path where nothing had to be changed.

    Raises
    ------
    InputError
        The declared encoding is unknown or does not fit.
    """
    encoding, guessed = _encoding(path, file, declared, scanned)
    is_utf8 = codecs.lookup(encoding).name in ("utf-8", "ascii")
    if is_utf8 and not scanned.has_mixed_line_ends and scanned.is_utf8:
        return Plain(path, False, [])
    corrections = []
    if guessed:
        corrections.append(Correction(None, f"text was not UTF-8: read as {encoding}", 1))
    if is_utf8 or scanned.n_return and not encoding.startswith("utf-16"):
        n_other = scanned.n_return + min(
            scanned.n_return_newline, scanned.n_newline - scanned.n_return_newline
        )
        corrections.append(Correction(None, "line ends made alike", n_other))
    _rewrite(path, file, encoding, target)
    return Plain(target, True, corrections)


def _encoding(path: Path, file: str, declared: str | None, scanned: Scan) -> tuple[str, bool]:
    """Return the encoding, and whether it is a fallback to be reported."""
    with path.open("rb") as handle:
        head = handle.read(BLOCK)
    for mark, name in WIDE_MARKS:
        if head.startswith(mark):
            return name, True
    if declared is not None:
        try:
            # Python also knows codecs that are no encodings of text; decode() refuses those.
            b" ".decode(declared)
        except UnicodeError:
            pass  # an encoding for which one blank is no text
        except (LookupError, ValueError) as exc:
            raise InputError(
                f"{file}: encoding {declared!r} is not known. Common ones: utf-8, cp1252, utf-16."
            ) from exc
        return declared, False
    if scanned.n_nul * 5 > scanned.n_bytes:
        raise InputError(
            f"{file}: {scanned.n_nul} of {scanned.n_bytes} bytes are zero, as in UTF-16 without a"
            ' mark. Add encoding = "utf-16-le" (or "utf-16-be") to its [[file]] entry.'
        )
    if scanned.is_utf8:
        return "utf-8", False
    return ("latin-1" if _has_gap(path) else WESTERN), True


def _has_gap(path: Path) -> bool:
    """Say whether the file holds a byte without a meaning in cp1252."""
    with path.open("rb") as handle:
        while block := handle.read(BLOCK):
            if len(block.translate(None, WESTERN_GAPS)) < len(block):
                return True
    return False


def _rewrite(path: Path, file: str, encoding: str, target: Path) -> None:
    """Decode block by block; every kind of line end becomes a newline."""
    inner = codecs.getincrementaldecoder("utf-8-sig" if encoding == "utf-8" else encoding)()
    decoder = io.IncrementalNewlineDecoder(inner, translate=True)
    try:
        with path.open("rb") as source, target.open("wb") as out:
            while block := source.read(BLOCK):
                out.write(decoder.decode(block).encode())
            out.write(decoder.decode(b"", final=True).encode())
    except UnicodeError as exc:
        raise InputError(
            f"{file}: its bytes are not {encoding} text ({exc}). Correct encoding in its [[file]]"
            " entry, or save the file as UTF-8."
        ) from exc
