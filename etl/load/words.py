"""What the words of a column mean: its closed vocabulary, further words, the site's own."""

from __future__ import annotations

import re

from etl.errors import InputError
from etl.load.columns import Column
from etl.load.names import slip_of
from etl.load.options import TypingOptions
from etl.load.quoting import BLANK_SIGNS, lowered
from etl.load.seeds import vocabulary

SEVERAL = "[,;|+]"
"""Stands between the words of a cell of kind ``words``."""


def meanings(column: Column, options: TypingOptions) -> dict[str, str]:
    """Return what each word of a column means, in lower case; tags as they are written.

    Parameters
    ----------
    column : Column
        From the catalogue.
    options : TypingOptions
        Words declared in the mapping; they go before the software's own.

    Returns
    -------
    dict of str to str
        Word -> word, or several parted by blanks, of the closed vocabulary.

    Raises
    ------
    InputError
        A word is declared twice, or turned into one that the column does not know.
    """
    declared = options.words.get(column.name, {})
    allowed = ("yes", "no") if column.kind == "yes_no" else column.words
    known = {word: word for word in allowed}
    known |= vocabulary("yes_no" if column.kind == "yes_no" else column.name)
    found: dict[str, str] = {}
    for word, meaning in declared.items():
        low = bare_word(word) if column.kind != "tag" else word.strip(BLANK_SIGNS)
        if found.setdefault(low, meaning) != meaning:
            raise InputError(
                f"columns.toml: words.{column.name} gives {word!r} two meanings. Keep one."
            )
        unknown = [part for part in meaning.split() if part not in allowed] if allowed else []
        if unknown:
            raise InputError(
                f"columns.toml: words.{column.name} turns {word!r} into {unknown[0]!r}, which is "
                f"not one of {', '.join(allowed)}. Choose one of them."
            )
    return known | found


def bare_word(cell: str) -> str:
    """Return a word in the form in which the rows look it up; empty for blanks.

    Examples
    --------
    >>> bare_word(" BRKDN\u00a0")
    'brkdn'
    """
    return lowered(cell.strip(BLANK_SIGNS))


def nearest_word(column: Column, cell: str) -> str | None:
    """Return the known word that an unknown one is most likely a slip of; None where none is near.

    Parameters
    ----------
    column : Column
        With a closed vocabulary.
    cell : str
        As written; of several words the first unknown one counts.

    Examples
    --------
    >>> from etl.load.columns import LOGS
    >>> nearest_word(LOGS["replacements"].column("reason"), "Planed")
    'planned'
    >>> nearest_word(LOGS["replacements"].column("reason"), "Panne")
    """
    known = meanings(column, TypingOptions())
    parts = re.split(SEVERAL, cell) if column.kind == "words" else [cell]
    for part in map(bare_word, parts):
        if part not in known:
            return slip_of(part, known)
    return None
