"""The work of ``braidlife fit``: a table of lives in, fits of its groups out."""

from __future__ import annotations

import dataclasses
import math
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import duckdb

from etl.counted import counted
from etl.errors import InputError
from etl.life.bounds_kinds import BOUNDS_KINDS
from etl.life.fit_examination import sentences
from etl.life.fit_summary import group_fits
from etl.life.lives_table import COLUMNS, RefusedRow, read_lives
from etl.load.delimited import Job
from etl.load.extract import Dialect, Wanted
from etl.load.quoting import as_text
from etl.load.readers import read

SHOWN_REFUSED = 20


def fit_table(
    columns: Mapping[str, Sequence[object]], confidence: float = 0.90, *,
    bounds: str = "likelihood", survival_at: Sequence[float] = (), is_full: bool = False,
    row_numbers: Sequence[int] | None = None, where: str = "lives",
    unreadable: Sequence[RefusedRow] = (),
) -> dict[str, Any]:
    """Fit a Weibull distribution to each group of a table of lives.

    Parameters
    ----------
    columns : mapping of str to sequence
        ``time``, or ``time_low`` and ``time_high`` (equal: an exact failure; ``time_high`` empty:
        a suspension); optional ``kind`` (failed, suspended, interval; failed unless stated),
        ``entry`` (age at entry), ``count``, ``group``. Cells are text, numbers or None.
    confidence : float
        Content of the two-sided bounds, in 0..1.
    bounds : str
        ``likelihood`` (ratio), ``normal`` (approximation on log scales, as textbooks have it) or
        ``bootstrap`` (fits of simulated lives; the same lives give the same bounds).
    survival_at : sequence of float
        Ages, >= 0, to which survival is stated, in a list ``survival`` of each group: by the
        Weibull, and between which values it lies without any law (Turnbull's estimate).
    is_full : bool
        State ``mean_life`` too, and how far the Weibull can be trusted: ``goodness`` (distances
        with simulated p-values), ``akaike`` (against other distributions), ``three_parameter``
        and ``two_populations``.
    row_numbers : sequence of int, optional
        Number of each row for messages; counted from 1 when left out.
    where : str
        Name of the table for messages.
    unreadable : sequence of RefusedRow
        Rows that were refused while reading.

    Returns
    -------
    dict
        ``groups``, ``confidence`` and ``refused``, ready for JSON: a figure that does not exist
        is None, never NaN. ``status`` is one of `etl.life.status.Status`.

    Raises
    ------
    InputError
        The columns, the confidence, the kind of bounds or an age cannot be used.

    Examples
    --------
    >>> result = fit_table({"time": [50, 50, 60, 60], "kind": ["failed"] * 2 + ["suspended"] * 2})
    >>> result["groups"][0]["status"], round(result["groups"][0]["shape"]["estimate"], 5)
    ('few_failures', 7.01214)
    """
    if not 0.0 < confidence < 1.0:
        raise InputError(
            f"confidence must lie between 0 and 1, got {confidence:g}. Write 90 % as 0.90."
        )
    if bounds not in BOUNDS_KINDS:
        raise InputError(f"bounds: {bounds!r} is none of {', '.join(BOUNDS_KINDS)}. Take one.")
    wrong = [age for age in survival_at if not 0.0 <= age < math.inf]
    if wrong:
        raise InputError(f"survival: ages must be numbers >= 0, got {wrong[0]:g} "
                         f"({len(wrong)} of {len(survival_at)}). Leave it out.")
    table = read_lives(columns, row_numbers, where)
    refused = sorted([*unreadable, *table.refused], key=lambda row: (row.row, row.column))
    return {
        "groups": group_fits(table, confidence, bounds, survival_at, is_full),
        "confidence": confidence,
        "refused": [dataclasses.asdict(row) for row in refused],
    }


def fit_file(
    path: Path, confidence: float = 0.90, *, bounds: str = "likelihood",
    survival_at: Sequence[float] = (), is_full: bool = False,
) -> dict[str, Any]:
    """Fit a Weibull distribution to each group of lives in a file.

    Parameters
    ----------
    path : Path
        CSV, TSV, XLSX or Parquet; columns as in `fit_table`.
    confidence : float
        Content of the two-sided bounds, in 0..1.
    bounds, survival_at, is_full
        As in `fit_table`.

    Returns
    -------
    dict
        As `fit_table`; rows are numbered as a spreadsheet shows them, the header being row 1.

    Raises
    ------
    InputError
        The file or its columns cannot be used.
    """
    path = Path(path)
    name = as_text(path.name)
    if not path.is_file():
        raise InputError(f"{name}: there is no such file. Check the name.")
    columns, numbers, unreadable = _cells(path)
    return fit_table(columns, confidence, bounds=bounds, survival_at=survival_at,
                     is_full=is_full, row_numbers=numbers, where=name,
                     unreadable=unreadable)


def _cells(path: Path) -> tuple[dict[str, list[object]], list[int], list[RefusedRow]]:
    """Return a file's cells by header, row numbers and unreadable rows."""
    with duckdb.connect() as con, tempfile.TemporaryDirectory() as folder:
        job = Job(con, path, as_text(path.name), "lives", Path(folder),
                  Wanted(names=frozenset(COLUMNS), numbers=frozenset(COLUMNS[:6]) - {"kind"}),
                  Dialect())
        extract = read(job)
        cells = [f"c{i}" for i in range(len(extract.header))]
        filled = " or ".join(f"trim({cell}) <> ''" for cell in cells)
        rows = con.execute(
            f"select {extract.row_number}, {', '.join(cells)} from {extract.table}"
            f" where {extract.filter} and ({filled}) order by 1").fetchall()
        faults = con.execute(
            f"select source_row, column_name, value, reason from {extract.unreadable}"
            " order by source_row, column_name").fetchall()
    columns: dict[str, list[object]] = {}
    for i, header in enumerate(extract.header):
        if header:
            columns[header] = [row[i + 1] for row in rows]
    return (columns, [int(row[0]) for row in rows],
            [RefusedRow(int(row), column or "", value or "", reason)
             for row, column, value, reason in faults])


def render(result: Mapping[str, Any]) -> str:
    """Return a result of `fit_table` as text for a terminal.

    Parameters
    ----------
    result : mapping
        As returned by `fit_table` or `fit_file`.

    Returns
    -------
    str
    """
    heads = ("group", "failures", "intervals", "suspensions", "status", "shape",
             "characteristic life", "B10")
    lines = [heads] + [(
        group["group"], f"{group['failures']:,}", f"{group['intervals']:,}",
        f"{group['suspensions']:,}", group["status"].replace("_", " "),
        *(_shown(group[figure]) for figure in ("shape", "characteristic_life", "b10")),
    ) for group in result["groups"]]
    widths = [max(len(line[i]) for line in lines) for i in range(len(heads))]
    text = ["  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip()
            for line in lines]
    methods = [group["method"].partition(", ")[2] for group in result["groups"]]
    named = next(filter(None, methods), BOUNDS_KINDS["likelihood"])
    text.append(f"Maximum likelihood; in brackets {named} of "
                f"{100.0 * result['confidence']:g} %; times in the unit of the file.")
    for group in result["groups"]:
        text += [f"{group['group']}: {more}" for more in _more(group)]
        text += [f"{group['group']}: {note}" for note in group["notes"]]
    refused = result["refused"]
    if refused:
        text.append(f"{counted(len(refused), 'row')} refused:")
        text += [f"  row {row['row']}, {row['column'] or 'whole row'} '{row['value']}': "
                 f"{row['reason']}" for row in refused[:SHOWN_REFUSED]]
        if len(refused) > SHOWN_REFUSED:
            text.append(f"  and {len(refused) - SHOWN_REFUSED:,} more (--json lists all)")
    return "\n".join(text)


def _more(group: Mapping[str, Any]) -> list[str]:
    """Return the figures of a group that were asked for beyond the usual ones."""
    lines = []
    if "mean_life" in group:
        lines = [f"mean life {_shown(group['mean_life'])}", *sentences(group)]
    return lines + [f"survival to {life['age']:g}: {_shown(life)}; {_without_law(life)}"
                    for life in group.get("survival", [])]


def _without_law(life: Mapping[str, float | None]) -> str:
    """Return survival to an age as no law of life makes it."""
    low, high = life["without_law_low"], life["without_law_high"]
    if low is None or high is None:
        return "no lives to tell without a law"
    return f"without a law {low:.4g}" + ("" if low == high else f" to {high:.4g}")


def _shown(figure: Mapping[str, float | None]) -> str:
    """Return an estimate with its bounds, or a dash."""
    if figure["estimate"] is None:
        return "-"
    low, high = (("open" if value is None else f"{value:.5g}") for value in
                 (figure["low"], figure["high"]))
    return f"{figure['estimate']:.5g} ({low} to {high})"
