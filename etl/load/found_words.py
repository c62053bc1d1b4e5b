"""Guess a word of ours from the words of a free text, as the mapping declares, and say so."""

from __future__ import annotations

import re
from collections.abc import Mapping

from etl.load.quoting import BLANK_SIGNS, literal

BETWEEN = f"[{BLANK_SIGNS}]+"
"""Pattern of what stands between two words."""


def found(cell: str, words: Mapping[str, str]) -> str:
    """Return SQL for what a free text most likely means.

    Parameters
    ----------
    cell : str
        SQL for the text.
    words : mapping of str to str
        Word to look for -> its meaning. A word counts where it begins a word of the text, in any
        case: ``leak`` is found in *Leaking hose*, not in *bleak*. Several words may stand apart by
        any blanks, also on two lines.

    Returns
    -------
    str
        Empty where no word is found, or words of more than one meaning.

    Examples
    --------
    >>> found("c1", {"leak": "failed"}).count("regexp_matches")
    3
    """
    meant = ", ".join(
        f"case when regexp_matches({cell}, {literal(_beginning(word))}) then {literal(meaning)} end"
        for word, meaning in words.items())
    # The functions of lists leave empty elements out.
    return f"case when list_min([{meant}]) = list_max([{meant}]) then list_min([{meant}]) end"


def _beginning(word: str) -> str:
    """Return the pattern of a word that begins with this one."""
    return r"(?i)(^|[^\pL\pN])" + BETWEEN.join(map(re.escape, word.split()))
