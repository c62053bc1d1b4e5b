"""What the page about vibration says."""

from __future__ import annotations

import math

from dashboard import words
from dashboard.queries.edition import Row

CAUTION = (
    "Not a vibration limit.",
    "No limit for hoses was found in any source; limits for pipes and machines only rank places. "
    "A hose that looks better here still has to meet pressure, temperature, medium and bend by the "
    "maker's rating. Let a qualified person decide, by local codes, and never touch a hose that "
    "shakes under pressure.",
)
BANDS = ((100.0, "rust-mid"), (300.0, "rust-soft"), (1000.0, "petrol-soft"),
         (math.inf, "petrol-mid"))  # fmt: skip
"""Upper ends of the bands of B10 in days, and their colours."""


def band_words() -> list[tuple[str, str]]:
    """Return each band of B10 as words, with its colour.

    Examples
    --------
    >>> [text for text, _ in band_words()]
    ['under 100 days', '100 to 300', '300 to 1,000', '1,000 or more']
    """
    out, low = [], 0.0
    for high, colour in BANDS:
        text = (f"under {high:,.0f} days" if not low else
                f"{low:,.0f} or more" if math.isinf(high) else f"{low:,.0f} to {high:,.0f}")
        out.append((text, colour))
        low = high
    return out


def left(exponent: float) -> float:
    """Return the share of a life that is left at twice the velocity."""
    return float(2.0**-exponent)


def sentence(row: Row) -> tuple[str, str]:
    """Return what twice the velocity does to a life, and its range.

    Examples
    --------
    >>> sentence({"exponent": 1.5, "exponent_lower": 1.0, "exponent_upper": 2.0})
    ('0.35 times as long', '0.25 to 0.50')
    """
    span = words.spread(left(row["exponent_upper"]), left(row["exponent_lower"]))
    return f"{words.number(left(row['exponent']))} times as long", span


def context(row: Row) -> list[str]:
    """Return what the figures rest on."""
    unknown = row["n_unknown_failures"]
    return [
        f"{words.count(row['n_lives'], 'hose')}, {row['n_failures']:,} failed by vibration",
        f"{unknown:,} of unknown cause counted as {row['n_unknown_counted']:,.0f}" if unknown
        else "",
        f"{row['n_places_read']:,} of {words.count(row['n_places'], 'place')} measured, "
        f"{words.count(row['n_readings'], 'reading')}",
    ]  # fmt: skip


def doubts(row: Row, errors: list[Row]) -> list[str]:
    """Return plainly what these figures cannot know."""
    out = [row["alarm_words"]]
    if row["is_error_known"]:
        out.append(
            f"A reading errs by a factor of {math.exp(row['error_sd']):.2f} either way, by "
            f"{words.count(row['n_repeats'], 'repeat')}; places of one class differ by "
            f"{math.exp(row['place_sd']):.2f}. Both are allowed for, and places never measured "
            "count with all the velocities that they may have.")
    else:
        told = "; ".join(
            f"factor {math.exp(item['error_sd']):.2f}: {words.number(item['exponent'])} "
            f"({words.spread(item['exponent_lower'], item['exponent_upper'])})" for item in errors)
        out.append(
            f"How far a reading errs cannot be told from {words.count(row['n_repeats'], 'repeat')}"
            f"; twenty would do. The exponent, by what one assumes: {told}.")
    if row["resonance"] is not None:
        out.append(
            f"Amplification near resonance counts with power {words.number(row['resonance'])} "
            f"({words.spread(row['resonance_lower'], row['resonance_upper'])}), velocity with "
            f"{words.number(row['exponent'])}: alike if natural frequencies were right. They are "
            "computed from the catalogue, so nothing is shown near them until one is measured.")
    if row.get("n_unexplained"):
        out.append(
            f"{words.count(row['n_unexplained'], 'hose')} came out before removals were recorded, "
            "at places whose hoses are known from the first day. Nobody wrote why: each counts as "
            "failed by vibration as far as that is likely at its age and place.")
    if row["n_old_at_start"]:
        out.append(
            f"{words.count(row['n_old_at_start'], 'hose')} had been running before the records "
            "began. That they had survived shows mild places, which the figures do not allow for: "
            "lives may be told somewhat wrong where places differ much. A place's whole list of "
            "installations, with the day it was commissioned, removes the doubt.")
    return [*out, "A place is taken to shake alike through all its years. Where machines wear or "
            "change speed, lives are told less sharply than they are.",
            "Ranges hold if the law holds between the measured points; a law that is wrong is not "
            "seen by them.", *_worth(row)]  # fmt: skip


def _worth(row: Row) -> list[str]:
    """Return what the draws behind the ranges are worth; nothing where they are independent."""
    n = row["n_effective"]
    return [] if n is None else [
        f"Ranges rest on draws worth {n:,} independent ones where they are worth least: their "
        "ends are good to a tenth of their width, no better."]


def no_evidence(reasons: list[tuple[str, int]], n_cells: int) -> str:
    """Return why cells of a map are blank.

    Examples
    --------
    >>> no_evidence([("too few hoses nearby", 30)], 81)
    'Blank: too few hoses nearby (30 of 81 cells).'
    >>> no_evidence([], 81)
    'No cell blank.'
    """
    if not reasons:
        return "No cell blank."
    told = "; ".join(f"{reason} ({n:,} of {n_cells:,} cells)" for reason, n in reasons)
    return f"Blank: {told}."
