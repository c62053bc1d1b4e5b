"""Tell a text file whose records do not fit its header: the fast reader crawls there.

It notes every cell too many, each with a copy of its whole line, so that its time grows with the
square of the length of a line: two megabytes without a line end took it over a minute. Reading
record by record takes such a file in seconds, and one of which many records lack cells, too: each
that the fast reader leaves out costs it ten times what a good one does.
"""

from __future__ import annotations

import re
from pathlib import Path

SAMPLE = 1 << 16
SAMPLES = 32
"""Two megabytes at most are looked at, evenly over the file: a few thousandths of its reading."""
LONGEST_WHOLE = 1 << 16
"""Bytes without a line end; an honest row is far shorter."""
MOST_THIN = 0.9
"""Part of the expected cells; above it, few records can lack any."""
MOST_MISFITS = 0.25
"""Part of the records."""
QUOTED = re.compile(rb'"[^"]*(?:"|$)')


def is_crowded(path: Path, delimiter: str, n_columns: int) -> bool:
    """Tell whether records hold far too many cells, one never ends, or many do not fit the header.

    Parameters
    ----------
    path : Path
        UTF-8 text.
    delimiter : str
        One sign.
    n_columns : int
        Cells that the header names.

    Returns
    -------
    bool
    """
    mark = delimiter.encode()
    size = path.stat().st_size
    step = max(SAMPLE, size // SAMPLES)
    n_marks = n_ends = 0
    blocks = []
    with path.open("rb") as file:
        for start in range(0, size, step):
            file.seek(start)
            block = file.read(SAMPLE)
            if len(block) == LONGEST_WHOLE and b"\n" not in block:
                return True
            block = block[block.find(b"\n") + 1:] if start else block  # from a row's beginning
            plain = QUOTED.sub(b"", block) if b'"' in block else block
            n_marks += plain.count(mark)
            n_ends += block.count(b"\n")
            blocks.append(block)
    if n_marks > n_columns * (n_ends + SAMPLES):
        return True
    return (n_marks < MOST_THIN * (n_columns - 1) * n_ends
            and _share_of_misfits(blocks, mark, n_columns) > MOST_MISFITS)


def _share_of_misfits(blocks: list[bytes], mark: bytes, n_columns: int) -> float:
    """Return the part of the records that do not have as many cells as the header.

    A block may begin within a quoted cell: it is read both ways and counts as the better one.
    """
    n_misfits = n_records = 0
    for block in blocks:
        both = (_misfits(start + block, mark, n_columns) for start in (b"", b'"'))
        found = min(both, key=lambda each: each[0] / each[1] if each[1] else 1)
        n_misfits += found[0]
        n_records += found[1]
    return n_misfits / max(1, n_records)


def _misfits(block: bytes, mark: bytes, n_columns: int) -> tuple[int, int]:
    """Return how many whole records do not have the cells of the header, and how many there are."""
    records = [line for line in QUOTED.sub(b"", block).split(b"\n")[:-1] if line.strip()]
    return sum(line.count(mark) != n_columns - 1 for line in records), len(records)
