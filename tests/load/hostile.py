"""Hostile files for the tests of reading: cells, tables, bytes and mappings that sites never check.

The examples of a test run are always the same ones. A longer run with new ones: set
BRAIDLIFE_FUZZ to the number of examples.
"""

from __future__ import annotations

import csv
import io
import os

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from etl.load.columns import LOGS

WANTED = os.environ.get("BRAIDLIFE_FUZZ")
BOUNDED = settings(
    max_examples=int(WANTED or 25), derandomize=WANTED is None, database=None, deadline=None,
    suppress_health_check=list(HealthCheck), print_blob=True)

DAYS = ("2020-01-31", "2020-02-30", "31.01.2020", "01/02/2020", "3.4.68", "1917-02-06",
        "9999-12-31", "0000-00-00", "infinity", "epoch", "2020-01-05 (BC)", "2020-01-05T10:00:00Z",
        "2021-03-14 02:30:00", "43861", "2020-W05", "Feb 30, 2020", "20200131", "00.00.0000")
NUMBERS = ("1", "-1", "0", "1.5", "1,5", "1.234,50", "1,234.50", "1e400", "-1e-400", "nan", "inf",
           "0x1F", "1_000", "5%", "1 000", "\u0661\u0662", "1\u00a0000", "+", ".", "1e", "--1",
           "99999999999999999999", "9223372036854775808", "\u22125", "\u00bd")
TEXTS = ("", " ", "P1", "p1", "P1 ", "\u00a0P2", "P-0017", "0017", "017", "H1",
         "=1+1", "@site", "-20B", "failed", "FAILED", "BRKDN", "planned", "yes", "no", "x",
         "none", "hot;pressure", "hot|",
         "null", "NULL", "NaN", "#N/A", "#REF!", "Total", "total:", "Sum of cost", "\ufeffP1",
         "'); drop table raw.loads; --", "$as_of", "{}", "%s", "../../etc/passwd", "<b>x</b>",
         'say "no"', '3/4" pipe', "two\nlines", "a,b", "a;b", "a\tb", "\\", "\u0130", "\U0001f600",
         "e\u0301", "\u202eabc", "\x07", "z" * 300)
CELL = st.one_of(st.sampled_from(DAYS), st.sampled_from(NUMBERS), st.sampled_from(TEXTS),
                 st.text(max_size=6).filter(lambda text: text.isprintable()))
UNKNOWN = ["", "Clerk", "Unnamed: 3", "COST (EUR)"]
IGNORED = 'ignore = ["clerk", "Unnamed*", "COST (EUR)"]'
LOG = st.sampled_from(sorted(LOGS))
ENCODINGS = st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252",
                             "latin-1", "utf-7", "utf-32"])
BYTES = st.one_of(st.sampled_from([b"\0", b'"', b'""', b"\r", b"\n", b"\r\n", b"\xff\xfe",
                                   b"\xef\xbb\xbf", b"\xe9", b"\x81", b",", b";", b"\t", b"|", b"'",
                                   b"\\", b"\x1a", b"\xc3", b"PK\x03\x04", b"\n\n\n", b'"\n"']),
                  st.binary(max_size=4))


@st.composite
def tables(draw, log, most_rows=6):
    """Return names of columns of a log, some of them odd, and rows of hostile cells."""
    names = list(LOGS[log].required)
    names += draw(st.lists(st.sampled_from(LOGS[log].names), max_size=5))
    names += draw(st.lists(st.sampled_from(UNKNOWN), max_size=1))
    names = draw(st.permutations(list(dict.fromkeys(names))))
    plain = {name: draw(_likely(log, name)) for name in names}
    rows = draw(st.lists(st.lists(st.one_of(st.none(), CELL), min_size=len(names),
                                  max_size=len(names)), max_size=most_rows))
    return [names, *([plain[name] if cell is None else cell
                      for name, cell in zip(names, row, strict=True)] for row in rows)]


def _likely(log, name):
    """Return a cell that a column would accept, so that a row is refused for one cell only."""
    if name not in LOGS[log].names:
        return st.just("clerk")
    column = LOGS[log].column(name)
    if column.words:
        return st.sampled_from(column.words)
    return st.sampled_from({
        "date": ["2020-01-31", "2021-05-05", "2019-12-01"], "yes_no": ["yes", "no"],
        "tag": ["P1", "P2", "H1"], "text": ["steam", "leak"],
    }.get(column.kind, ["1", "2", "30"]))


@st.composite
def text_files(draw, log):
    """Return the bytes of a delimited file, written rightly and then spoiled here and there."""
    table = draw(tables(log))
    delimiter = draw(st.sampled_from([",", ";", "\t", "|"]))
    line_end = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    out = io.StringIO(newline="")
    if draw(st.booleans()):
        csv.writer(out, delimiter=delimiter, lineterminator=line_end).writerows(table)
    else:  # as programs write that know nothing of quotes
        out.write("".join(delimiter.join(row) + line_end for row in table))
    above = draw(st.sampled_from(["", "", "", "Report of hoses\n\n", "printed;2020\n"]))
    content = (above + out.getvalue()).encode(draw(ENCODINGS), "replace")
    for piece in draw(st.lists(BYTES, max_size=3)):
        place = draw(st.integers(0, len(content)))
        length = draw(st.sampled_from([0, 0, 1, 5]))
        content = content[:place] + piece + content[place + length:]
    return content


FORMATS = st.lists(st.sampled_from(["%d.%m.%Y", "%d.%m.%y", "%m/%d/%Y", "%d/%m/%Y", "%Y%m%d",
                                    "%d %b %Y", "%Y-%m-%d", "%Y-%m-%d %H:%M:%S", "%j/%Y",
                                    "%d.%m.%Y %z", "%A %d %B %Y", "%%%Y"]), max_size=3, unique=True)


@st.composite
def mappings(draw, log, file):
    """Return a mapping file for a file of a log that names its columns as we do."""
    decimal = draw(st.sampled_from([".", ","]))
    thousands = draw(st.sampled_from(["", ".", ",", "'", " "]).filter(lambda mark: mark != decimal))
    lines = ["[[file]]", f'match = "{file}"', f'log = "{log}"', f'decimal = "{decimal}"',
             f'thousands = "{thousands}"', f"date_formats = {draw(FORMATS)!r}",
             f"two_digit_year_pivot = {draw(st.integers(0, 99))}", IGNORED,
             f"no_date = {draw(st.lists(st.sampled_from(DAYS), max_size=2))!r}"]
    if draw(st.booleans()):
        lines.append(f"header_row = {draw(st.integers(1, 4))}")
    words = [column for column in LOGS[log].columns if column.words]
    if words:
        column = draw(st.sampled_from(words))
        meaning = draw(st.sampled_from([*column.words, ""]))
        lines += [f"[file.words.{column.name}]", f'BRKDN = "{meaning}"', f'"" = "{meaning}"']
    return "\n".join(lines)
