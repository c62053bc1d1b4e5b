"""How failures are told that have happened but are not on record yet."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dashboard import words


def late_failures(edition: Mapping[str, Any]) -> str:
    """Return how many failures not on record yet the forecasts allow for; empty where none.

    Examples
    --------
    >>> late_failures({"months_until_on_record": 3, "late_failures": 12.4,
    ...                "late_failures_lower": 8.0, "late_failures_upper": 17.0,
    ...                "on_record_in_month": 0.813}).replace(words.SPACE, " ")
    'about 12 failures (8 to 17) that no log holds yet are allowed for: 81 % are logged by the end \
of their month, all within 3 months'
    >>> late_failures({"months_until_on_record": 0})
    ''
    """
    if not edition["months_until_on_record"]:
        return ""
    low, high = (f"{edition[f'late_failures_{end}']:,.0f}" for end in ("lower", "upper"))
    many = words.count(max(edition["late_failures"], 0.6), "failure")
    months = words.count(edition["months_until_on_record"], "month")
    return (f"about {many} ({low} to {high}) that no log holds yet are allowed for: "
            f"{words.percent(edition['on_record_in_month'])} are logged by the end of their month, "
            f"all within {months}")
