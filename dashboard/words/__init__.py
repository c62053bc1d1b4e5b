"""Every label and explanation of the pages, and how numbers are written."""

from __future__ import annotations

import datetime as dt
import math
import re

from etl.counted import counted

PRODUCT = "Braidlife"
CAUTION_FORECAST = (
    "A forecast is not a rating.",
    "Isolate, depressurise, drain, cool and prove zero before loosening any hose. Hazardous "
    "service follows its fixed interval whatever stands here. Local codes, the maker's rating "
    "and licensed practice come first.",
)
CAUTION_PLACE = (
    "Before a hand goes near:",
    "depressurise, drain, cool, isolate and lock out, prove zero energy, and know the last "
    "medium. Restrain a hose whose whip could hurt. Never re-use a twisted, kinked or over-bent "
    "hose. Old lagging may hold asbestos.",
)
CAUTION_HAZARD = (
    "Hazardous service ({hazards}):",
    "planned replacement and inspection stay in force whatever the statistics say; a trial here "
    "needs the site's management of change. Follow local codes, the maker's rating and licensed "
    "practice.",
)
FOOTER = (
    "A statistical life is not a pressure rating. One hose in ten fails before B10, by "
    "definition. Follow local codes, the maker's rating and licensed practice."
)
HAZARD_SHOWN = {
    "toxic", "flammable", "asphyxiant", "cryogenic", "hot", "pressure", "corrosive", "oxidising",
}  # fmt: skip

REASONS = {
    "failed": "failed in service",
    "found_failed": "found failed",
    "removed_degraded": "taken out degraded",
    "planned": "planned change",
    "opportunity": "changed on the occasion",
    "upgraded": "changed for another construction",
    "inspection": "taken out for inspection",
    "moved": "moved to another place",
    "retired": "place retired",
    "other": "other reason",
    "unknown": "no reason recorded",
    "in service": "in service",
}
MECHANISM_WORDS = {
    "all": "any failure",
    "unknown": "not concluded",
    "torsion_fatigue": "torsion fatigue",
    "bend_fatigue": "bending fatigue",
    "vib_fatigue": "vibration fatigue",
    "flow_vib": "flow-induced vibration",
    "braid_wear": "braid wear",
    "pit_internal": "pitting from inside",
    "cl_scc": "stress corrosion cracking",
    "corr_external": "corrosion from outside",
    "abrasion_external": "rubbing outside",
    "erosion_internal": "erosion inside",
    "weld_fitting": "weld or fitting",
    "mfg_defect": "manufacturing defect",
    "install_damage": "damage at fitting",
    "overpressure": "overpressure",
    "squirm": "squirm",
    "axial_misuse": "axial load",
    "thermal": "thermal damage",
}
FINDINGS = {
    "removal without installation": "Removed, but never logged as fitted",
    "implied removal": "Removal not logged, known from the next installation",
    "tag mismatch": "Tags that differ between fitting and removal",
    "overlap": "Two hoses at one place at once",
    "hose in two places": "One hose at two places at once",
    "earlier age unknown": "Used before, for an unknown time",
    "installed after retirement": "Fitted after the place was retired",
    "part not in register": "Part that the log of parts lacks",
    "meter exchanged": "Run meter that fell back, taken as exchanged",
    "returned to an earlier value": "Row that undoes a correction",
    "swap beside a removal": "Swap declared for a hose that a log takes out that day",
    "nothing to take back": "Row marked as deleted whose key no other row has",
}
"""Oddities met while lives were built, as a reader would put them."""
FATES = {"used": "used", "superseded": "superseded by a later row", "refused": "refused"}
SPACE = "\u00a0"
"""Keeps a number and its unit on one line."""
CURRENCIES = {"GBP": "£", "EUR": "€", "USD": "$", "JPY": "¥"}
MOST_SURE = 0.995
"""A share of draws that all agree is no certainty: it is said as over 99 %."""
NO_COST = "cost not known: no price or cost recorded"


def by_number(name: str | None) -> str:
    """Return a key that sorts names as people count: the numbers in them by size.

    It is the order of the published table ``names``, here for names that it does not hold.

    Examples
    --------
    >>> sorted(["line 10", "line 9", "Line 1"], key=by_number)
    ['Line 1', 'line 9', 'line 10']
    """
    return re.sub("[0-9]+", lambda digits: digits[0].lstrip("0").zfill(20), (name or "").lower())


def count(n: float, one: str, many: str | None = None) -> str:
    """Return a count with its noun.

    Examples
    --------
    >>> count(1, "hose"), count(1204, "place"), count(0, "hose")
    ('1 hose', '1,204 places', 'no hose')
    """
    if not n:
        return f"no {one}"
    return counted(n, one, many)


def number(value: float | None, digits: int = 2) -> str:
    """Return a number to so many significant digits, thousands set apart.

    Examples
    --------
    >>> number(0.0412), number(13.26), number(24031.0, 3), number(None), number(-180.0)
    ('0.041', '13', '24,000', 'not known', '−180')
    """
    if value is None or not math.isfinite(value):
        return "not known"
    if value == 0:
        return "0"
    places = digits - 1 - math.floor(math.log10(abs(value)))
    rounded = round(value, places)
    return f"{rounded:,.{max(0, places)}f}".replace("-", "−")


def money(value: float | None, currency: str) -> str:
    r"""Return an amount rounded to three significant digits, with its currency.

    Examples
    --------
    >>> money(24031.0, "GBP"), money(None, "GBP"), money(7.25, "SEK")
    ('£\xa024,000', 'not known', '7.25\xa0SEK')
    """
    text = number(value, 3)
    if text == "not known":
        return text
    sign = CURRENCIES.get(currency)
    return f"{sign}{SPACE}{text}" if sign else f"{text}{SPACE}{currency}"


def percent(value: float | None) -> str:
    r"""Return a chance or share in whole percent, never a false 0 or 100.

    Examples
    --------
    >>> percent(0.643), percent(0.002), percent(0.9991), percent(0.0), percent(None)
    ('64\xa0%', 'under 1\xa0%', 'over 99\xa0%', '0\xa0%', 'not known')
    """
    if value is None or not math.isfinite(value):
        return "not known"
    if 0 < value < 0.01:
        return f"under 1{SPACE}%"
    if 0.99 < value < 1:
        return f"over 99{SPACE}%"
    return f"{100 * value:.0f}{SPACE}%"


def spread(lower: float | None, upper: float | None, digits: int = 2) -> str:
    """Return a range in words.

    Examples
    --------
    >>> spread(2.0, 4.41), spread(None, 3.0), spread(1.0, None), spread(None, None)
    ('2.0 to 4.4', 'up to 3.0', '1.0 or more', 'range not known')
    """
    if lower is None and upper is None:
        return "range not known"
    if lower is None:
        return f"up to {number(upper, digits)}"
    if upper is None:
        return f"{number(lower, digits)} or more"
    return f"{number(lower, digits)} to {number(upper, digits)}"


def percent_spread(lower: float | None, upper: float | None) -> str:
    """Return a range of chances in whole percent, of small ones to their first digit.

    Examples
    --------
    >>> percent_spread(0.47, 0.802), percent_spread(None, 0.5), percent_spread(2e-4, 0.0041)
    ('47 to 80', 'range not known', '0.02 to 0.4')
    """
    if lower is None or upper is None:
        return "range not known"
    if upper < 0.01:
        return f"{number(100 * lower, 1)} to {number(100 * upper, 1)}"
    return f"{100 * lower:.0f} to {100 * upper:.0f}"


def kept(text: str) -> str:
    r"""Return a text that stays on one line.

    Examples
    --------
    >>> kept("8 to 19")
    '8\xa0to\xa019'
    """
    return text.replace(" ", SPACE)


def evidence(n_failures: int, n_suspensions: int) -> str:
    """Return how many hoses speak.

    Examples
    --------
    >>> evidence(3, 4)
    '3 failed, 4 not'
    """
    return f"{n_failures:,} failed, {n_suspensions:,} not"


def date(value: dt.date | None) -> str:
    """Return a date as 31 Oct 2026, or that it is not known.

    Examples
    --------
    >>> date(dt.date(2026, 3, 1)), date(None)
    ('1 Mar 2026', 'date not known')
    """
    if value is None:
        return "date not known"
    months = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()
    return f"{value.day} {months[value.month - 1]} {value.year}"


def month_name(value: dt.date) -> str:
    """Return the month's name.

    Examples
    --------
    >>> month_name(dt.date(2026, 10, 1))
    'October'
    """
    return (
        "January February March April May June July August September October November December"
    ).split()[value.month - 1]


def days(value: float | None) -> str:
    """Return an age or a life in days.

    Examples
    --------
    >>> days(230.0), days(1.0), days(None)
    ('230 days', '1 day', 'not known')
    """
    if value is None:
        return "not known"
    return "1 day" if round(value) == 1 else f"{value:,.0f} days"


def mechanism(value: str | None) -> str:
    """Return a mechanism in words; one we have no words for is shown as it stands."""
    if value is None:
        return "not concluded"
    return MECHANISM_WORDS.get(value, value.replace("_", " "))


def reason(value: str) -> str:
    """Return a removal reason in words."""
    return REASONS.get(value, value.replace("_", " "))
