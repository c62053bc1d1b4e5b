"""Words of the pages about lives: measures, statuses of a fit, ranges in words."""

from __future__ import annotations

from dashboard import words
from dashboard.queries.edition import Row
from dashboard.words import clock as clocks
from dashboard.words.clock import DAYS, Clock

MEASURES = {"b10": "B10", "characteristic_life": "characteristic life", "shape": "shape"}
COLUMNS = {
    "b10": "b10_days",
    "characteristic_life": "characteristic_life_days",
    "shape": "shape",
}
"""Column of each measure in days; the pooled estimate has the prefix ``pooled_``. By another clock
the column is called as the measure, and there is no pooled one."""
MEANINGS = {
    "b10": "the age by which ten in a hundred have failed",
    "characteristic_life": "the age by which 63 in a hundred have failed",
    "shape": "below 1 early failures, about 1 failures at any age, above 1 wear-out",
}
ESTIMATES = {"pooled": "pooled", "alone": "stand-alone"}
STATUSES = {
    "ok": ("well founded", "at least five failures, an estimate with both bounds"),
    "few_failures": ("few failures", "one to four failures: an estimate with a very wide range"),
    "no_failures": (
        "no failure",
        "none has failed: no estimate by these hoses alone; the pooled figure is borrowed",
    ),
    "shape_not_estimable": (
        "shape not estimable",
        "the failures do not say how life scatters, such as one failure that is also the oldest "
        "hose; the pooled figure is given",
    ),
    "no_finite_estimate": (
        "no finite estimate",
        "watched only from some age on, and the rate falls: these hoses alone give no estimate",
    ),
    "no_lives": ("nothing to fit", "no hose of this kind was watched for a day"),
}
BY_READINGS = {
    "no_failures": ("no failure", "none with readings has failed: there is no estimate"),
    "shape_not_estimable": (
        "shape not estimable",
        "the failures do not say how life scatters, such as one failure that is also the oldest "
        "hose: there is no estimate",
    ),
    "no_lives": ("no readings", "no meter tells what a hose of this kind ran from new"),
}
"""Statuses by another clock than the calendar, where nothing is borrowed."""
CAUTION_B10 = (
    "B10 is a planning figure, never a safe life.",
    "One hose in ten has failed before it, by definition. A statistical life is not a pressure "
    "rating: follow local codes, the maker's rating and licensed practice. Hazardous media need "
    "planned replacement and inspection whatever the statistics say.",
)
NO_SINGLE_SHAPE = "no single shape: mechanisms compete"


Range = tuple[float | None, float | None, float | None]


def values(fit: Row, measure: str, estimate: str) -> Range:
    """Return estimate, lower and upper bound of a measure, each None when there is none."""
    name = ("pooled_" if estimate == "pooled" else "") + (
        COLUMNS[measure] if clocks.of(fit) is DAYS else measure)
    return fit[name], fit[f"{name}_lower"], fit[f"{name}_upper"]


def longest(fit: Row) -> float | None:
    """Return the oldest age that a hose of a kind is known to have reached, by the fit's clock."""
    age: float | None = fit["longest_life" + clocks.of(fit).suffix]
    return age


def bare(value: float, measure: str) -> str:
    """Return a value of a measure without its unit: ages to three digits, never a false decimal.

    Examples
    --------
    >>> bare(1234.0, "b10"), bare(61.87, "b10"), bare(4.26, "b10"), bare(2.349, "shape")
    ('1,230', '62', '4.3', '2.35')
    """
    if measure == "shape":
        return f"{value:.2f}" if value < 10 else words.number(value, 3)
    return words.number(value, 3 if value >= 100 else 2)


def amount(value: float | None, measure: str, clock: Clock = DAYS) -> str:
    """Return one value of a measure with its unit.

    Examples
    --------
    >>> amount(1234.0, "b10"), amount(2.349, "shape"), amount(None, "b10")
    ('1,230 days', '2.35', 'not known')
    """
    if value is None:
        return "not known"
    return bare(value, measure) + ("" if measure == "shape" else f" {clock.many}")


def between(
    lower: float | None, upper: float | None, measure: str, clock: Clock = DAYS
) -> str:
    """Return the range of a measure in words, without unit.

    Examples
    --------
    >>> between(61.9, 215.0, "b10"), between(61.9, None, "b10"), between(None, None, "b10")
    ('62 to 215', '62 or more', 'range not known')
    >>> between(1830.0, 445_000.0, "b10")
    '1,830 or more'
    """
    if measure != "shape" and clocks.is_open(lower, upper, clock):
        upper = None
    if lower is None:
        return "range not known" if upper is None else f"up to {bare(upper, measure)}"
    return f"{bare(lower, measure)} " + ("or more" if upper is None else
                                         f"to {bare(upper, measure)}")  # fmt: skip


def ranged(fit: Row, measure: str, estimate: str) -> str:
    """Return a measure with unit and 90 % range, or the words for why there is none."""
    value, lower, upper = values(fit, measure, estimate)
    clock = clocks.of(fit)
    if value is not None:
        return f"{amount(value, measure, clock)} ({between(lower, upper, measure, clock)})"
    if measure == "shape" and estimate == "pooled" and fit["mechanism"] == "all":
        return NO_SINGLE_SHAPE
    if lower is not None:
        return f"{amount(lower, measure, clock)} or more"
    return status(fit["status"], clock)[0]


def status(name: str, clock: Clock = DAYS) -> tuple[str, str]:
    """Return a status in short and what it means."""
    if clock is not DAYS and name in BY_READINGS:
        return BY_READINGS[name]
    return STATUSES.get(name, (name.replace("_", " "), ""))


def times(ratio: float, lower: float | None, upper: float | None) -> str:
    """Return a ratio with its range.

    Examples
    --------
    >>> times(1.893, 1.21, 2.96), times(0.0931, None, 0.42), times(14.2, 3.0, None)
    ('1.9 times (1.2 to 3.0)', '0.093 times (up to 0.42)', '14 times (3.0 or more)')
    """
    return f"{words.number(ratio)} times ({words.spread(lower, upper)})"


def p_value(value: float) -> str:
    """Return how easily chance alone would make so great a difference, in words.

    Examples
    --------
    >>> p_value(0.213), p_value(0.0123)
    ('chance alone can make such a difference (p = 0.21)', 'rarely made by chance (p = 0.012)')
    >>> p_value(0.0002)
    'hardly ever made by chance (p below 0.001)'
    """
    if value < 0.001:
        return "hardly ever made by chance (p below 0.001)"
    if value < 0.05:
        return f"rarely made by chance (p = {words.number(value)})"
    return f"chance alone can make such a difference (p = {words.number(value)})"


def evidence(fit: Row) -> str:
    """Return the counts behind a fit in words; hoses without readings where none has any."""
    if clocks.of(fit) is not DAYS and not fit["n_lives"]:
        return words.count(fit["n_left_out"], "hose")
    return words.evidence(fit["n_failures"], fit["n_suspensions"])


def left_out(fit: Row) -> str:
    """Return how many fitted lives readings do not tell, and why; empty where they tell all.

    Examples
    --------
    >>> left_out({"n_left_out": 41, "n_left_out_failures": 13, "n_without_meter": 30,
    ...           "n_not_from_start": 11, "n_not_run": 0})
    '41 hoses (13 of them failed): 30 without a meter, 11 not read from the day they went in'
    """
    if not fit["n_left_out"]:
        return ""
    why = ((fit["n_without_meter"], "without a meter"),
           (fit["n_not_from_start"], "not read from the day they went in"),
           (fit["n_not_run"], "whose meter stood still"))
    return (f"{words.count(fit['n_left_out'], 'hose')} ({fit['n_left_out_failures']:,} of them "
            "failed): " + ", ".join(f"{n:,} {said}" for n, said in why if n))


def construction(name: str) -> str:
    """Return a construction's name; where no row named one, that it is not recorded."""
    return "construction not recorded" if name == "unknown" else name


def kind(application_class: str, name: str) -> str:
    """Return the name of a kind of hose."""
    return f"{name} on {application_class}"


def capital(text: str) -> str:
    """Return a text with its first letter large."""
    return text[:1].upper() + text[1:]
