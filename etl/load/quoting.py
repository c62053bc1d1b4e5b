"""Write texts that come from files into SQL, into lines of a mapping file, and into messages."""

from __future__ import annotations

from unicodedata import category

BLANK_SIGNS = " \t\n\r\u00a0\u2007\u202f\ufeff"
"""What is taken off at both ends of a cell."""
ESCAPES = {"\\": "\\\\", '"': '\\"', "\t": "\\t", "\n": "\\n", "\r": "\\r"}


def literal(text: str) -> str:
    """Write a text as an SQL literal, for a view, which cannot hold bound values.

    Examples
    --------
    >>> literal("it's")
    "'it''s'"
    """
    return "'" + text.replace("'", "''").replace("\0", "") + "'"


def bare(cell: str) -> str:
    """Return SQL for a cell without outer blanks; NULL where nothing is left of it."""
    return f"nullif(trim({cell}, {literal(BLANK_SIGNS)}), '')"


def lowered(text: str) -> str:
    """Write a text in small letters as the database does: sign by sign.

    Examples
    --------
    >>> lowered("\u0130PTAL"), lowered("\u03a4\u039f\u03a3")[-1] == "\u03c3"
    ('iptal', True)
    """
    return "".join("i" if sign == "\u0130" else sign.lower() for sign in text)


def has_bare_edges(text: str) -> bool:
    """Say whether a text has a first and a last sign, and neither is a blank."""
    return bool(text) and text == text.strip(BLANK_SIGNS)


def quoted(text: str) -> str:
    r"""Write a text as a basic string of TOML.

    Examples
    --------
    >>> print(quoted('3/4" \0'))
    "3/4\" \u0000"
    """
    return '"' + "".join(ESCAPES.get(sign, sign if _is_allowed(sign) else f"\\u{ord(sign):04x}")
                         for sign in text) + '"'


def as_text(name: str) -> str:
    """Return the name of a file as it is shown, noted and matched.

    Bytes that are no text, as names from other systems hold them, and signs that move a line
    become a mark of their own.

    Examples
    --------
    >>> as_text("stock_\\udcfc\\n.csv")
    'stock_\ufffd\ufffd.csv'
    """
    return "".join("\N{REPLACEMENT CHARACTER}" if category(sign) in ("Cc", "Cs") else sign
                   for sign in name)


def _is_allowed(sign: str) -> bool:
    """Say whether a sign may stand in a string as it is: TOML forbids control characters."""
    return sign >= " " and sign != "\x7f"
