"""Kinds of values in a mapping file, each with the check that refuses what cannot be one."""

from __future__ import annotations

import datetime as dt
import re
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field

from etl.load.columns import LOGS
from etl.load.months import plain
from etl.load.names import nearest

DIRECTIVES = re.compile(r"%(.?)")
KNOWN_DIRECTIVES = frozenset("YmdyBbHMSfjpIzZaAT%")


def _known_log(name: str) -> str:
    if name not in LOGS:
        raise ValueError(f"unknown log {name!r}.{nearest(name, LOGS)}")
    return name


def _date_format(text: str) -> str:
    signs = DIRECTIVES.findall(text)
    unknown = [sign for sign in signs if sign not in KNOWN_DIRECTIVES]
    if not signs or unknown:
        raise ValueError(f"{text!r} is not a date format such as '%d.%m.%Y'")
    return text


def _pattern(pattern: str) -> str:
    try:
        re.compile(pattern)
    except (re.error, OverflowError) as exc:
        raise ValueError(f"{pattern!r} is not a regular expression ({exc})") from exc
    except RecursionError as exc:
        raise ValueError("it is not a regular expression (it nests too deeply)") from exc
    return pattern


def _one_group(pattern: str) -> str:
    if re.compile(_pattern(pattern)).groups != 1:
        raise ValueError(f"{pattern!r} needs exactly one group in round brackets")
    return pattern


def _delimiter(sign: str) -> str:
    if len(sign) != 1 or sign in '"\r\n ':
        raise ValueError(f"{sign!r} is not one delimiter sign such as ';'")
    return sign


def _months(names: dict[str, int]) -> dict[str, int]:
    found: dict[str, int] = {}
    for name, number in names.items():
        if not plain(name) or found.setdefault(plain(name), number) != number:
            raise ValueError(f"{name!r} stands for no month, or for two. Correct the line.")
    return names


def _day(value: Any) -> Any:
    """Refuse a number, which would be taken for the seconds since 1970."""
    if isinstance(value, (dt.date, str)):
        return value
    raise ValueError("must be a day, written as 2026-10-31")


def _cell(value: Any) -> Any:
    """Refuse what cannot stand in one cell; a moment is not cut down to its day."""
    if isinstance(value, (str, bool, int, float, dt.date)) and not isinstance(value, dt.datetime):
        return value
    raise ValueError("must be a text, a number, true or false, or a day")


KnownLog = Annotated[str, AfterValidator(_known_log)]
DateFormat = Annotated[str, AfterValidator(_date_format)]
Pattern = Annotated[str, AfterValidator(_pattern)]
OneGroup = Annotated[str, AfterValidator(_one_group)]
"""A pattern with one group, which is what is taken."""
Delimiter = Annotated[str, AfterValidator(_delimiter)]
Months = Annotated[dict[str, Annotated[int, Field(ge=1, le=12)]], AfterValidator(_months)]
Day = Annotated[dt.date, BeforeValidator(_day)]
Cell = Annotated[str | int | float | bool | dt.date, BeforeValidator(_cell)]
