"""Reference tables that come with the software: words, units, mechanisms and others."""

from __future__ import annotations

import csv
from functools import cache

import duckdb

from etl.errors import InputError
from etl.load.warehouse import run_text
from etl.paths import resource

TABLES = ("countermeasures", "derating", "evidence", "finding_states", "findings", "formulas",
          "glossary", "mechanisms", "method_notes", "record_words", "screens")
"""Files of which statements read the rows; the others are read here alone."""


def load_seeds(con: duckdb.DuckDBPyConnection) -> None:
    """Make a table ``seeds.<file name>`` of text columns from each packaged CSV file of `TABLES`.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        The work database, with the schema ``seeds``.
    """
    for name in TABLES:
        run_text(
            con,
            f"create or replace table seeds.{name} as select * from read_csv("
            "$path, header = true, all_varchar = true, delim = ',', quote = '\"', escape = '\"')",
            path=str(resource("sql") / "seeds" / f"{name}.csv"),
        )


def rows(name: str) -> list[dict[str, str]]:
    """Return the rows of a packaged CSV file in file order."""
    with (resource("sql") / "seeds" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@cache
def vocabulary(name: str) -> dict[str, str]:
    """Return what each further word of a vocabulary means, such as ``leak`` -> ``failed``.

    Parameters
    ----------
    name : str
        Name of the column, or ``"yes_no"``; empty for a column without further words.

    Returns
    -------
    dict of str to str
        Lower-case word -> word of the closed vocabulary.

    Examples
    --------
    >>> vocabulary("yes_no")["y"]
    'yes'
    """
    if name == "mechanism":
        return {
            word.lower(): row["mechanism"]
            for row in rows("mechanisms")
            for word in (row["name"], row["short"], row["mechanism"])
        }
    return {row["word"]: row["meaning"] for row in rows("words") if row["vocabulary"] == name}


def conversion(unit: str, stored_unit: str) -> tuple[float, float]:
    """Return factor and offset that turn a value in `unit` into the unit it is stored in.

    Parameters
    ----------
    unit : str
        Unit declared in the mapping, such as ``"psi"``.
    stored_unit : str
        Unit of the column in the catalogue, such as ``"bar"``.

    Returns
    -------
    tuple of float
        ``stored = factor * value + offset``.

    Raises
    ------
    InputError
        No such conversion is known.

    Examples
    --------
    >>> conversion("degF", "degC")
    (0.5555555555555556, -17.77777777777778)
    """
    known = {
        row["unit"]: (float(row["factor"]), float(row["offset"]))
        for row in rows("units")
        if row["stored_unit"] == stored_unit
    }
    if unit not in known:
        raise InputError(
            f"columns.toml: unit {unit!r} cannot be turned into {stored_unit!r}. "
            f"Use one of: {', '.join(sorted(known)) or 'none'}."
        )
    return known[unit]
