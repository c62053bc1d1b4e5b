"""One pass over the bytes of a delimited text file, before anything is parsed.

The pass counts what the fast reader must agree with afterwards: records, blank records, NUL
bytes, kinds of line ends, and whether the file ends inside a quoted cell. A newline inside
quotes ends no record; that is decided by the parity of the quotes before it.
"""

from __future__ import annotations

import codecs
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from etl.load.quoting import BLANK_SIGNS

BLOCK = 1 << 17
"""128 KiB a read stay in the processor's cache while it is looked at several times."""
LONG_RECORD = 1_800_000
"""Bytes; the fast reader gives up at 2,000,000, and a block more may follow unnoticed."""
NEWLINE, RETURN, QUOTE, SPACE = 10, 13, 34, 32
ASCII = 127
WIDE_BLANKS = tuple(sign.encode() for sign in BLANK_SIGNS if not sign.isascii())
BOM = b"\xef\xbb\xbf"


@dataclass
class Scan:
    """What the bytes of a file hold; record numbers start at 1."""

    n_records: int = 0
    blanks: list[int] = field(default_factory=list)
    """Numbers of the records without a single character."""
    n_nul: int = 0
    n_error_marks: int = 0
    """``#`` followed by N, D, R or V: possible error marks of a spreadsheet."""
    has_power: bool = False
    """True where ``E+`` stands somewhere: possible tags that a spreadsheet cut their digits off."""
    n_newline: int = 0
    n_return_newline: int = 0
    n_return: int = 0
    """Carriage returns that no newline follows."""
    ends_in_quote: bool = False
    open_record: int = 0
    """Record in which the last opened quote stands."""
    has_long_record: bool = False
    """True where a record nears or passes the limit of the fast reader."""
    is_utf8: bool = True
    has_wide_blank: bool = False
    """True where a blank other than the plain one, which needs more bytes, stands in the file."""
    has_tab: bool = False
    has_quote: bool = False
    has_quoted_newline: bool = False
    beside_blank: bytearray = field(default_factory=lambda: bytearray(256))
    """For each byte 1 where it stands next to a plain blank somewhere."""
    n_bytes: int = 0

    @property
    def has_mixed_line_ends(self) -> bool:
        """True where more than one kind of line end stands in the file, or a lone return."""
        return self.n_return > 0 or 0 < self.n_return_newline < self.n_newline

    def may_hold_outer_blanks(self, delimiter: str) -> bool:
        """Say whether some cell may begin or end with a blank; False where certainly none does."""
        edge = delimiter.encode()
        if len(edge) > 1 or self.has_wide_blank or self.has_quoted_newline:
            return True
        if self.has_tab and (delimiter != "\t" or self.has_quote):
            return True
        return any(self.beside_blank[code] for code in (NEWLINE, RETURN, QUOTE, edge[0]))


def scan(path: Path) -> Scan:
    """Count the records of a UTF-8 (or other ASCII-like) text file.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Scan
        Line ends other than a newline alone or after a return end no record here; a file that
        has them is rewritten before it is read.

    Notes
    -----
    The quote state at a newline is the parity of the quotes before it, so that no character is
    looked at one by one. A quote inside an unquoted cell breaks this; the reader then disagrees
    with the count, and the file is read again record by record.
    """
    result = Scan()
    with path.open("rb") as file:
        _Pass(result).run(file)
    return result


class _Pass:
    """The state that is carried from block to block."""

    def __init__(self, result: Scan) -> None:
        self.result = result
        self.beside = np.frombuffer(result.beside_blank, np.uint8)
        self.parity = 0
        self.line_length = 0
        self.last_byte = NEWLINE
        self.pending = b""
        """The end of the block before, where it may be part of a sign of several bytes."""
        self.decoder: codecs.IncrementalDecoder | None = codecs.getincrementaldecoder("utf-8")()

    def run(self, file: BinaryIO) -> None:
        """Read the file to its end."""
        first = True
        while block := file.read(BLOCK):
            self.result.n_bytes += len(block)
            self._check_encoding(block)
            if first and block.startswith(BOM):
                block = block[len(BOM):]
            first = False
            if block:
                self._count(block)
                self.result.has_long_record |= self.line_length > LONG_RECORD
        self._check_encoding(b"", final=True)
        if self.last_byte == SPACE:
            self.beside[NEWLINE] = 1
        if self.line_length > 0:
            self.result.n_records += 1
        self.result.ends_in_quote = self.parity == 1

    def _check_encoding(self, block: bytes, *, final: bool = False) -> None:
        """Note whether the bytes so far are UTF-8; plain ASCII costs next to nothing."""
        if self.decoder is None:
            return
        pending = self.decoder.getstate()[0]
        if not pending and not final and block.isascii():
            return
        try:
            self.decoder.decode(block, final)
        except UnicodeDecodeError:
            self.result.is_utf8 = False
            self.decoder = None

    def _count(self, block: bytes) -> None:
        """Add one block to the counts."""
        result = self.result
        if b"\0" in block:
            result.n_nul += block.count(b"\0")
        if b"#" in block:
            result.n_error_marks += sum(block.count(mark) for mark in (b"#N", b"#D", b"#R", b"#V"))
        if b"+" in block:
            joined = bytes([self.last_byte]) + block
            result.has_power |= b"E+" in joined or b"e+" in joined
        codes = np.frombuffer(block, np.uint8)
        self._look_beside_blanks(block, codes)
        is_end = codes == NEWLINE
        n_newline = int(np.count_nonzero(is_end))
        result.n_newline += n_newline
        has_blank = is_end[0] and self.last_byte in (NEWLINE, RETURN)
        opens = is_end
        if b"\r" in block or self.last_byte == RETURN:
            opens = codes == RETURN
            self._add_returns(opens, is_end)
            opens = opens | is_end
        has_blank = has_blank or opens[0] and self.last_byte == NEWLINE
        has_blank = has_blank or bool((is_end[:-1] & opens[1:]).any())
        if self.parity == 0 and b'"' not in block and not has_blank:
            result.n_records += n_newline
            tail = len(block) - 1 - block.rfind(b"\n")
            self.line_length = tail if n_newline else self.line_length + len(block)
        else:
            self._count_quoted(codes)
        self.last_byte = block[-1]

    def _look_beside_blanks(self, block: bytes, codes: NDArray[np.uint8]) -> None:
        """Note what stands next to blanks: only at the edge of a cell do they matter."""
        result = self.result
        result.has_tab |= b"\t" in block
        result.has_quote |= b'"' in block
        if self.pending or not block.isascii():
            joined = self.pending + block
            result.has_wide_blank |= any(mark in joined for mark in WIDE_BLANKS)
            self.pending = joined[-2:] if joined[-1] > ASCII else b""
        if self.last_byte == SPACE:
            self.beside[codes[0]] = 1
        if b" " in block:
            at = np.flatnonzero(codes == SPACE)
            self.beside[codes[at[at > 0] - 1]] = 1
            self.beside[codes[at[at < codes.size - 1] + 1]] = 1
            if at[0] == 0:
                self.beside[self.last_byte] = 1

    def _add_returns(self, is_return: NDArray[np.bool_], is_end: NDArray[np.bool_]) -> None:
        """Count carriage returns, with and without a newline after them."""
        if self.last_byte == RETURN and is_end[0]:
            self.result.n_return -= 1
            self.result.n_return_newline += 1
        paired = int(np.count_nonzero(is_return[:-1] & is_end[1:]))
        self.result.n_return_newline += paired
        self.result.n_return += int(np.count_nonzero(is_return)) - paired

    def _count_quoted(self, block: NDArray[np.uint8]) -> None:
        """Count the records of a block that holds quotes, returns or blank lines."""
        result = self.result
        newline = np.flatnonzero(block == NEWLINE)
        quote = np.flatnonzero(block == QUOTE)
        outside = (np.searchsorted(quote, newline) + self.parity) % 2 == 0
        ends = newline[outside]
        result.has_quoted_newline |= ends.size < newline.size
        if quote.size:
            last_end = int(np.searchsorted(ends, quote[-1]))
            result.open_record = result.n_records + last_end + 1
        self.parity = (self.parity + quote.size) % 2
        if ends.size == 0:
            self.line_length += int(block.size)
            return
        before = np.concatenate(([-1 - self.line_length], ends[:-1]))
        lengths = ends - before - 1
        follows_return = block[ends - 1] == RETURN
        if ends[0] == 0:
            follows_return[0] = self.last_byte == RETURN and self.line_length > 0
        blank = np.flatnonzero(lengths - follows_return == 0)
        result.blanks.extend((result.n_records + 1 + blank).tolist())
        result.n_records += int(ends.size)
        self.line_length = int(block.size - 1 - ends[-1])
