"""Cells as sites write days and numbers, and what they mean by a reading of its own."""

from __future__ import annotations

import calendar
import datetime as dt
import random
import re
import unicodedata
from collections.abc import Mapping
from decimal import Decimal
from types import EllipsisType
from typing import Any

import duckdb

from dashboard.parts.start.ways import NONE
from etl.load.columns import LOGS, Column
from etl.load.mapping import TypingOptions
from etl.load.seeds import rows
from etl.load.typed_cells import BLANKS, typed_cell
from etl.load.words import meanings

FORMS = ("%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%d-%m-%Y", "%m-%d-%Y", "%Y-%m-%d", "%Y/%m/%d",
         "%d.%m.%y", "%m/%d/%y", "%Y%m%d", "%d-%b-%Y", "%d-%b-%y", "%d %b %Y", "%b %d, %Y",
         "%d %B %Y", "%B %d, %Y", "%d. %b %Y", "%d.%b.%y", "%d/%b/%Y", "%d de %b de %Y",
         "%Y-%b-%d", "%a %d %b %Y", "%b-%d-%Y", "%d.%m.%Y %H:%M", "%d %b %Y %H:%M")
UNKNOWN = ("Oca Şub Mar Nis May Haz Tem Ağu Eyl Eki Kas Ara",
           "Ιαν Φεβ Μάρ Απρ Μάιος Ιούν Ιούλ Αύγ Σεπ Οκτ Νοέ Δεκ",
           "yan fev mar apr may İyn İyl avq sen okt noy dek",
           "янв фев мар апр май июн июл авг сен окт ноя дек",
           "Ⅰ Ⅱ Ⅲ Ⅳ Ⅴ Ⅵ Ⅶ Ⅷ Ⅸ Ⅹ Ⅺ Ⅻ", "I II III IV V VI VII VIII IX X XI XII")
"""Short names of months that no table of the software knows, from memory."""
HEADERS = ("installed_on", "Fitted", "removed_on", "Removed", "service_point", "Asset", "reason",
           "Why", "part_cost", "Cost", "Price EUR", "Stock", "on_hand", "part_number", "as_of",
           "hose_id", "Object", "", "-", "Note", "unit_price", "length_m", "construction", "Date")
WORDS = ("P1", "P2", "leak", "PM", "pm ", "İPTAL", "Straße", "hose", "HOSE pipe", "100 %", "x|y",
         "\u00a0", "\u3000PM", "failed", "ΤΕΛΟΣ", "a.b", "-", "(x)", "yes", "01-00-1900")
READERS = {"%d": "(?P<d>[0-9]{1,2})", "%m": "(?P<m>[0-9]{1,2})", "%Y": "(?P<Y>[0-9]{4})",
           "%y": "(?P<y>[0-9]{2})", "%b": r"(?P<b>[^\W\d_]+)\.?", "%B": r"(?P<b>[^\W\d_]+)\.?"}
_CON = duckdb.connect()


def read(ours: str, cells: list[str], options: TypingOptions) -> dict[str, Any]:
    """Return what each cell is as a cell of our column: NULL where it is not read."""
    column = _column(ours)
    if not cells or column.kind not in ("date", "number", "integer", "money"):
        return {}
    value = typed_cell(column, options).value
    found = _CON.execute(f"select s_{ours}, {value} from (select unnest(?::varchar[]) as s_{ours})",
                         [cells]).fetchall()
    return dict(found)


def matches(pattern: str, cells: list[str]) -> dict[str, bool]:
    """Return for each cell whether the pattern of a mapping is found in it."""
    return dict(_CON.execute("select s, regexp_matches(s, ?) from (select unnest(?::varchar[]) as"
                             " s)", [pattern, cells]).fetchall()) if cells else {}


def _column(ours: str) -> Column:
    return next(log.column(ours) for log in LOGS.values() if ours in log.names)


def same(name: str) -> str:
    """Return a name in the form in which two names are one, by the rules of letter cases."""
    return unicodedata.normalize("NFC", name).casefold().replace("i\u0307", "i")


def day_by(cell: str, form: str, months: Mapping[str, int], pivot: int = 30,
           ) -> dt.date | EllipsisType | None:
    """Return the day that a cell is in a form; Ellipsis for forms that this does not know."""
    parts = re.findall("%.|[^%]+", form)
    if any(part[0] == "%" and part not in READERS for part in parts) or len(
            {part.lower() for part in parts if part[0] == "%"}) != 3 or (
            len([part for part in parts if part[0] == "%"]) != 3):
        return ...
    found = re.fullmatch("".join(READERS.get(part, re.escape(part)) for part in parts),
                         unicodedata.normalize("NFC", cell))
    if not found:
        return None
    got = found.groupdict()
    names = {same(name): number for names in (calendar.month_abbr, calendar.month_name)
             for number, name in enumerate(names) if name}
    names |= {same(name.strip().rstrip(".")): number for name, number in months.items()}
    year = int(got["Y"]) if "Y" in got else int(got["y"]) + (
        2000 if int(got["y"]) < pivot else 1900)
    month = int(got["m"]) if "m" in got else names.get(same(got["b"]), 0)
    if "b" in got and not months:
        return ...  # what the database knows by itself
    with_day = (year, month, int(got["d"]))
    try:
        return dt.date(*with_day)
    except ValueError:
        return None


def follows(cell: str, form: str, months: Mapping[str, int]) -> bool:
    """Say whether a cell is a day of our time in a form."""
    day = day_by(cell, form, months)
    return isinstance(day, dt.date) and 1950 <= day.year <= 2100


def expected_day(cell: str, options: TypingOptions) -> dt.date | EllipsisType | None:
    """Return the day of a cell under a declaration; Ellipsis where this cannot tell."""
    if re.match("[0-9]{4}-[0-9]{2}-", cell):
        return ...
    found = [day_by(cell, form, options.months, options.two_digit_year_pivot)
             for form in options.date_formats]
    if options.serial_days_from and re.fullmatch(r"[1-9][0-9]{4}([.,][0-9]+)?", cell):
        day_0 = dt.date(1899, 12, 30) if options.serial_days_from == 1900 else dt.date(1904, 1, 1)
        found.append(day_0 + dt.timedelta(days=int(cell[:5])))
    if ... in found:
        return ...
    days = {day for day in found if day}
    return days.pop() if len(days) == 1 else None


def expected_number(cell: str, options: TypingOptions) -> Decimal | EllipsisType | None:
    """Return the amount of a cell under declared marks; Ellipsis where this cannot tell."""
    if not options.thousands and options.decimal == ".":
        return ...
    mark = re.escape(options.decimal)
    group = f"(?:[{re.escape(options.thousands)}][0-9]{{3}})" if options.thousands else "(?:x{9})"
    whole = f"(?:[0-9]{{1,3}}{group}+|[0-9]+)"
    if options.thousands and options.thousands not in ".,":
        return ...  # several signs that look alike
    if not re.fullmatch(f"[-+]?(?:{whole}(?:{mark}[0-9]*)?|{mark}[0-9]+)", cell):
        return ... if re.search("[eE]", cell) else None
    plain = cell.replace(options.thousands or "\0", "").replace(options.decimal, ".")
    number = Decimal(plain)
    if abs(number) >= 10 ** 15 or number != round(number, 2):
        return ...
    return number


def said_of(column: Column, answers: Mapping[str, str], was: Mapping[str, Any],
            found: Mapping[str, Any], options: TypingOptions) -> list[str]:
    """Return the cells of a column that were asked about, answered, and are still not read."""
    out = []
    start = f"0 word {column.name} "
    if column.kind == "word":
        known, given = meanings(column, options), [
            index.removeprefix(start) for index, answer in answers.items()
            if index.startswith(start) and answer != NONE]
        return [word for word in given if _CON.execute(
            f"select lower(trim(?, {BLANKS}))", [word]).fetchall()[0][0] not in known]
    if column.kind == "date":
        if was["serial"] and answers.get("0 serials", NONE) != NONE:
            out += [cell for cell in found if cell == was["serial"][0]]
        out += [cell for name, cell in was["months"] if answers.get(f"0 month {name}", NONE) != NONE
                and cell and not re.search(r"(?<!\d)(29|30|31)(?!\d)", cell)]
        if was["dates"] and "0 dates" in answers:
            out += [cell for cell in found if follows(cell, answers["0 dates"], {})]
    elif column.kind in ("number", "money") and was["marks"] and "0 marks" in answers:
        out += [was["marks"]]
    return [cell for cell in out if cell in found and found[cell] is None]


def drawn_table(drawn: random.Random) -> bytes:
    """Return an input: a head, and a table whose columns are written as sites write them."""
    names = drawn.sample(HEADERS, drawn.randint(2, 6))
    if drawn.random() < 0.6:
        names = [*dict.fromkeys(["Fitted", "Removed", "Asset", "Cost", *names])][:6]
    n_rows = drawn.choice([1, 2, 3, 4, 12, 25])
    spoken = drawn.choice([*UNKNOWN, *(row["names"] for row in rows("months"))]).split()
    ways = drawn.sample(FORMS, drawn.randint(1, 2))
    columns = [_written(drawn, name, n_rows, spoken, ways) for name in names]
    table = [names, *map(list, zip(*columns, strict=True))]
    table = [[cell.replace(";", ",").replace("\n", " ") for cell in row] for row in table]
    months = ",".join(f"{name}={n}" for n, name in enumerate(spoken, start=1))
    head = "|".join([
        "~".join(ways), months if drawn.random() < 0.7 else "",
        drawn.choice(["", "1900", "1904"]), str(drawn.choice([0, 30, 99])),
        drawn.choice([".", ",", ".,", ",.", ".'", ",\u00a0"]), str(drawn.random())])
    return "\n".join([head, *map(";".join, table)]).encode()


def _written(drawn: random.Random, name: str, n: int, spoken: list[str],
             forms: list[str]) -> list[str]:
    """Return the cells of a column in one way of writing, now and then in several."""
    of_days = drawn.random() < (0.9 if name in ("Fitted", "Removed", "installed_on", "Date")
                                else 0.2)
    ways = forms if drawn.random() < 0.7 else drawn.sample(FORMS, 2)
    marks, serial = drawn.choice([".,", ",.", ". ", ",", "."]), drawn.random() < 0.15
    case = drawn.choice([str, str, str.upper, str.lower, lambda text: text.replace(" ", "\u00a0"),
                         lambda text: text.replace(" ", "  "),
                         lambda text: unicodedata.normalize("NFD", text),
                         lambda text: text.translate(str.maketrans("0123456789", "٠١٢٣٤٥٦٧٨٩"))])
    is_number, words = drawn.random() < 0.5, drawn.sample(WORDS, 3)
    cells = []
    for _ in range(n):
        day = dt.date(2015, 1, 1) + dt.timedelta(days=drawn.randrange(4000))
        if drawn.random() < 0.05:
            text = drawn.choice(WORDS)
        elif of_days and serial:
            text = f"{(day - dt.date(1899, 12, 30)).days}{drawn.choice(['', '', '.5', ',25'])}"
        elif of_days:
            text = _day(day, drawn.choice(ways), spoken)
        elif is_number:
            text = f"{drawn.choice([1, 980, 1250, 1250000]):,}".replace(",", marks[1:] or "")
            text += drawn.choice(["", "", f"{marks[0]}50", f"{marks[0]}250"])
        else:
            text = drawn.choice(words)
        cells.append(case(text))
    return cells


def _day(day: dt.date, form: str, spoken: list[str]) -> str:
    """Write a day in a form with the names of months of a language."""
    return day.strftime(re.sub("%[bB]", spoken[day.month - 1], form))
