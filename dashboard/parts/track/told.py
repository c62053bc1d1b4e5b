"""The track record in words: were earlier forecasts right, and nearer than simple rules."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dashboard import parts, words
from dashboard.figures.track import is_inside
from dashboard.queries.edition import Row

AS_KNOWN, RECONSTRUCTED = "as known then", "reconstructed"
SPANS = {"1": "one month", "3": "three months", "6": "six months", "12": "twelve months"}
RIVALS = {
    "last year": "last year's average",
    "constant rate": "a constant rate",
    "plug-in": "the likeliest life taken as certain",
}
SCOPES = {
    "fleet": "whole fleet", "site": "sites", "application_class": "application classes",
    "line": "lines", "part": "parts",
}  # fmt: skip

WORSE_BY = -0.05
"""Gain over a rival from which on being worse is said although no range can be given."""


class Scores:
    """Scores of one basis, looked up by name."""

    def __init__(self, rows: Sequence[Row]) -> None:
        """Sort the rows of ``track_scores``."""
        self._rows = {(row["scope"], row["horizon_months"], row["method"], row["measure"]): row
                      for row in rows if not row["band"]}
        self.bands = [row for row in rows if row["measure"] == "chance_band"]

    def get(self, scope: str, months: int, measure: str, method: str = "forecast") -> Row | None:
        """Return one score, None where there is none."""
        return self._rows.get((scope, months, method, measure))

    def all(self, measure: str) -> list[Row]:
        """Return every score of a measure, by any method."""
        return [row for (_, _, _, name), row in self._rows.items() if name == measure]


def sentence(rows: Sequence[Row], scores: Scores) -> list[Any]:
    """Return whether the fleet's forecasts of single months were right.

    Parameters
    ----------
    rows : sequence of rows
        Forecasts of one month for the fleet.
    scores : Scores
    """
    over = [row for row in rows if row["observed"] is not None]
    if not over:
        return ["Earlier forecasts are kept, but ", parts.strong("none of their months is over"),
                " yet."]  # fmt: skip
    n_inside = sum(map(is_inside, over))
    said: list[Any] = [
        f"Of the last {words.count(len(over), 'monthly forecast')}, ",
        parts.strong(f"{n_inside} held", attention=is_poor(n_inside, len(over))),
        ": what came fell inside their 90 % range. ",
    ]
    bias = scores.get("fleet", 1, "bias")
    if bias and bias["value"] is not None:
        said += ["Added up, they were ", parts.strong(bias_words(bias), is_beyond(bias, 0.0))]
        nearer = scores.get("fleet", 1, "nearer", "last year")
        if nearer:
            said += [f", and nearer than last year's average in {nearer['value'] * len(over):g} "
                     f"of {len(over)}"]
        said += ["."]
    return said


def is_poor(n_inside: int, n: int) -> bool:
    """Tell whether fewer forecasts held than a fair 90 % range would let through.

    Notes
    -----
    Below nine tenths by more than two standard deviations of independent hits.
    """
    return n_inside < 0.9 * n - 2.0 * (0.09 * n) ** 0.5


def is_beyond(row: Row, right: float) -> bool:
    """Tell whether the range of a score leaves out the value that a right forecast has."""
    return row["lower"] is not None and not row["lower"] <= right <= row["upper"]


def signed(value: float) -> str:
    """Return a share in whole percent without its sign.

    Examples
    --------
    >>> signed(-0.053), signed(0.002)
    ('5\\xa0%', 'under 1\\xa0%')
    """
    return words.percent(abs(value)) if abs(value) >= 0.005 else f"under 1{words.SPACE}%"


def bias_words(row: Row) -> str:
    """Return by how much forecasts were too high or too low.

    Examples
    --------
    >>> bias_words({"value": 0.053})
    '5\\xa0% too high'
    >>> bias_words({"value": -0.002})
    'right on average'
    """
    value = row["value"]
    if abs(value) < 0.005:
        return "right on average"
    return f"{signed(value)} too {'high' if value > 0 else 'low'}"


def range_words(row: Row) -> str:
    """Return the range of a share in percent, signs kept, or why there is none.

    Examples
    --------
    >>> range_words({"lower": -0.06, "upper": 0.118, "n_windows_apart": 24})
    '−6 to 12\\xa0%'
    >>> range_words({"lower": 0.006, "upper": 0.0139})
    '0.6 to 1.4\\xa0%'
    >>> range_words({"lower": None, "upper": None, "n_windows_apart": 2})
    'range not known: too few spans that do not overlap (2)'
    """
    if row["lower"] is None:
        return f"range not known: too few spans that do not overlap ({row['n_windows_apart']})"
    low, high = (f"{100.0 * row[end]:.0f}" for end in ("lower", "upper"))
    if low == high:
        low, high = (f"{100.0 * row[end]:.1f}" for end in ("lower", "upper"))
    low, high = (end.lstrip("-") if not float(end) else end.replace("-", "−")
                 for end in (low, high))
    return f"{low} to {high}{words.SPACE}%"


def gain_words(row: Row) -> str:
    """Return how much nearer our forecasts were than a rival's.

    Examples
    --------
    >>> gain_words({"value": 0.123, "lower": 0.044, "upper": 0.208})
    '12\\xa0% nearer'
    >>> gain_words({"value": -0.02, "lower": -0.05, "upper": -0.01})
    '2\\xa0% further off'
    >>> gain_words({"value": 0.02, "lower": -0.05, "upper": 0.06})
    'no clear difference'
    """
    value = row["value"]
    if row["lower"] is not None and not is_beyond(row, 0.0):
        return "no clear difference"
    return f"{signed(value)} {'nearer' if value > 0 else 'further off'}"


def context(rows: Sequence[Row], basis: str) -> list[Any]:
    """Return what the record covers."""
    first, last = rows[0]["as_of"], rows[-1]["as_of"]
    told = ("each made with the logs that were there by then" if basis == AS_KNOWN else
            "reconstructed: later logs cut at the day of the event")  # fmt: skip
    return [
        f"{words.count(len(rows), 'month end')}, {words.month_name(first)} {first.year} to "
        f"{words.month_name(last)} {last.year}", told,
        "outcomes by the newest data",
    ]  # fmt: skip


def faults(
    rows: Sequence[Row], scores: Scores, span: str, basis: str, unknown: Row | None
) -> list[Any]:
    """Return plainly where the method was wrong, and what it cannot know."""
    return [*_outside(rows, span), *_beyond(scores), *_unsure(scores), *_beaten(scores),
            unknown_words(unknown), *_always(basis)]


def _outside(rows: Sequence[Row], span: str) -> list[str]:
    """Return the forecasts on view that did not hold."""
    over = [row for row in rows if row["observed"] is not None]
    missed = [row for row in over if not is_inside(row)]
    if not missed:
        return [f"No forecast of {SPANS[span]} on view missed its 90 % range."] if over else []
    shown = "; ".join(
        f"up to {words.date(row['until'])} {row['observed']:,} came where {row['lower']:,} to "
        f"{row['upper']:,} were forecast" for row in missed[-3:]
    )  # fmt: skip
    share = f"{len(missed)} of {len(over)}"
    last = "the last ones " if len(missed) > 3 else ""
    return [f"{share} on view missed their range: {last}{shown}."]


def _beyond(scores: Scores) -> list[str]:
    """Return the spans whose bias or coverage is off, beyond chance or too rarely seen to tell."""
    out = []
    for months, span in SPANS.items():
        # Every scope adds up the same failures: the first that allows a range speaks for all.
        rows = [row for scope in SCOPES if (row := scores.get(scope, int(months), "bias"))]
        known = [row for row in rows if row["lower"] is not None]
        if known and is_beyond(known[0], 0.0):
            out.append(f"Over {span} the forecasts were {bias_words(known[0])} "
                       f"({range_words(known[0])}): more than chance.")  # fmt: skip
    cost = scores.get("line", 12, "cost_bias") or scores.get("fleet", 12, "cost_bias")
    if cost and cost["value"] is not None:
        out.append(f"Expected cost of failures over {SPANS['12']} was {bias_words(cost)} "
                   f"({range_words(cost)}).")  # fmt: skip
    narrow = [
        f"{SCOPES[row['scope']]} over {SPANS[str(row['horizon_months'])]} "
        f"{words.percent(row['value'])} inside"
        for row in scores.all("coverage_90")
        if row["method"] == "forecast" and is_beyond(row, 0.9) and row["value"] < 0.9
    ]  # fmt: skip
    return out + ([f"Ranges too narrow: {'; '.join(narrow)}."] if narrow else [])


def _unsure(scores: Scores) -> list[str]:
    """Return where the fleet's forecasts did worse than a rival, in too few spans to tell."""
    out = []
    for months, span in SPANS.items():
        rows = [scores.get("fleet", int(months), "gain", rival) for rival in RIVALS]
        worse = [RIVALS[row["method"]] for row in rows
                 if row and row["lower"] is None and row["value"] is not None
                 and row["value"] <= WORSE_BY]  # fmt: skip
        if worse:
            n = rows[0]["n_windows_apart"] if rows[0] else 0
            out.append(f"Over {span}, for the whole fleet, {' and '.join(worse)} came nearer; too "
                       f"few spans that do not overlap ({n}) to tell it from chance.")
    return out


def _beaten(scores: Scores) -> list[str]:
    """Return the rivals that our forecasts did not beat."""
    worse: dict[tuple[str, int], list[str]] = {}
    same = []
    for row in scores.all("gain"):
        if is_beyond(row, 0.0) and row["value"] < 0:
            key = row["method"], row["horizon_months"]
            worse.setdefault(key, []).append(SCOPES[row["scope"]])
        elif row["lower"] is not None and not is_beyond(row, 0.0):
            same.append(row["method"])
    told = [f"by {RIVALS[rival]} over {SPANS[str(months)]} ({', '.join(sorted(names))})"
            for (rival, months), names in sorted(worse.items())]  # fmt: skip
    out = [f"Beaten, beyond chance: {'; '.join(told)}."] if told else []
    even = [f"{RIVALS[name]} in {same.count(name)}" for name in RIVALS if name in same]
    if even:
        n = sum(row["method"] == "last year" for row in scores.all("gain"))
        out.append(f"Of {words.count(n, 'kind')} of group and span, no clear difference from "
                   f"{', from '.join(even)}: simple rules do about as well there.")  # fmt: skip
    return out


def unknown_words(row: Row | None) -> str:
    """Return what removals without a reason would change.

    Examples
    --------
    >>> row = {"n_unknown": 305, "n_unknown_failed": 186.3, "failures_factor": 1.0764}
    >>> unknown_words(row).replace(words.SPACE, " ")
    'Removals without a reason (305) count as no failure, then and since. Shared out by age, about \
186 of them were: failures would then be about 8 % more than recorded, and than forecast.'
    """
    said = "count as no failure, then and since"
    if row is None or not row["n_unknown"]:
        return f"Removals without a reason {said}; there is none on record."
    more = words.percent(row["failures_factor"] - 1.0)
    return (f"Removals without a reason ({row['n_unknown']:,}) {said}. Shared out by age, about "
            f"{words.number(row['n_unknown_failed'], 3)} of them were: failures would then be "
            f"about {more} more than recorded, and than forecast.")


def _always(basis: str) -> list[str]:
    """Return what no score of this kind can show."""
    out = [
        "Hoses are taken to come out unfailed as often as they did before: where planned work "
        "grows or stops, the forecast of failures lies high or low until the records show it.",
    ]  # fmt: skip
    if basis == AS_KNOWN:
        out.append("Where logs come late, forecasts allow for failures that were not on record "
                   "yet, as far as the delays known then told.")  # fmt: skip
    if basis == RECONSTRUCTED:
        out.append("Reconstructed forecasts see every row whose event had happened, also rows "
                   "that nobody had entered yet, and today's corrections: real ones would have "
                   "been somewhat worse.")  # fmt: skip
    return out
