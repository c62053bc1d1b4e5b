"""Tell a text file whose records hold far more cells than its header: the fast reader crawls there.

It notes every cell too many, each with a copy of its whole line, so that its time grows with the
square of the length of a line: two megabytes without a line end took it over a minute. Reading
record by record takes such a file in seconds.
"""

from __future__ import annotations

import re
from pathlib import Path

SAMPLE = 1 << 16
SAMPLES = 32
"""Two megabytes at most are looked at, evenly over the file: a few thousandths of its reading."""
LONGEST_WHOLE = 1 << 16
"""Bytes without a line end; an honest row is far shorter."""
QUOTED = re.compile(rb'"[^"]*(?:"|$)')


def is_crowded(path: Path, delimiter: str, n_columns: int) -> bool:
    """Tell whether records hold, on average, more than one cell too many, or one never ends.

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
    return n_marks > n_columns * (n_ends + SAMPLES)
