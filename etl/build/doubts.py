"""The doubts that the logs leave, with what each would change, in words."""

from __future__ import annotations

import duckdb
import numpy as np
import pandas as pd

from etl.decide.ranking import WORST

WORDS = (
    ("removals without a reason", "unknown reasons",
     "counted as taken out unfailed; had every one been a failure, "),
    ("failures found at a look", "", "counted between the last good look and the find, not on the "
     "day of the find"),
    ("failures without a concluded mechanism", "missing mechanisms",
     "shared out among the mechanisms of the kind; all mechanisms together, and so the ranking, "
     "do not depend on it; had every one been of the commonest one of its kind and not of "
     "another, "),
    ("lives not fitted", "", "ended before the records begin or not observed for any time"),
    ("removals without a known installation", "missing installations",
     "without an age: in cost and history, not in lives; had every hose gone in when its place "
     "was last empty or its records begin, "),
    ("removals implied by the next installation", "implied removals",
     "dated to that day, without a reason, as unfailed; had every one been a failure, "),
)
"""Each doubt, its name among the other readings where it has one, and what is said of it."""


def doubts(
    con: duckdb.DuckDBPyConnection, b10: pd.DataFrame, ranks: pd.DataFrame
) -> pd.DataFrame:
    """Return the doubts that could move the figures, with what each would change.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds ``fit.doubt_counts`` and ``seeds.mechanisms``.
    b10, ranks : DataFrame
        From `etl.build.other_readings`.

    Returns
    -------
    DataFrame
        doubt, n_rows, effect; in the order of `WORDS`.
    """
    counts = con.execute("select * from fit.doubt_counts").fetchall()[0]
    short = dict(con.execute("select mechanism, short from seeds.mechanisms").fetchall())
    b10 = b10.assign(by=[short.get(name, name) for name in b10["mechanism"]])
    return pd.DataFrame({
        "doubt": [doubt for doubt, _, _ in WORDS], "n_rows": [int(n) for n in counts],
        "effect": [_effect(name, text, int(n), b10, ranks)
                   for (_, name, text), n in zip(WORDS, counts, strict=True)]})


def _effect(name: str, text: str, n: int, b10: pd.DataFrame, ranks: pd.DataFrame) -> str:
    """Return what one doubt does, and how far the figures move under its other reading."""
    if not name:
        return text
    if not n:
        return text + "nothing would change: there is none"
    said = [] if name == "missing mechanisms" else [_rank_words(ranks[ranks["doubt"] == name])]
    said.append(_b10_words(b10[b10["doubt"] == name]))
    return text + ", and ".join(said)


def _b10_words(rows: pd.DataFrame) -> str:
    """Return the kind of hose whose B10 would move most."""
    told = rows.dropna(subset=["b10_days", "b10_days_other"])
    if told.empty:
        return "no B10 can be put beside another: too few of those lives can be fitted"
    move = np.abs(np.log(told["b10_days_other"].to_numpy(np.float64)
                         / told["b10_days"].to_numpy(np.float64)))
    most = told.iloc[int(np.argmax(move))]
    by = "" if most["mechanism"] == "all" else f" by {most['by']}"
    return (f"B10{by} of {most['application_class']}, {most['construction']} would be "
            f"{most['b10_days_other']:,.0f} days instead of {most['b10_days']:,.0f}, the largest "
            f"change among {len(told)} {'kinds' if len(told) > 1 else 'kind'}")


def _rank_words(ranks: pd.DataFrame) -> str:
    """Return how many of the dearest places would be others."""
    if ranks.empty:
        return "the ranking stays as it is"
    n_top = int((ranks["rank"] <= WORST).sum())
    n = int(((ranks["rank"] > WORST) & (ranks["rank_other"] <= WORST)).sum())
    top = f"{n_top} dearest places" if n_top > 1 else "dearest place"
    return (f"about {n} of the {top} would give way to others" if n
            else f"the {top} would stay the same")
