"""What the page for one's own files says."""

from __future__ import annotations

ROW_KINDS = {
    "stays": "one hose: where it sat, when it went in, when and why it came out",
    "service_points": "one place where a hose sits",
    "installations": "one hose going in",
    "replacements": "one hose coming out",
    "constructions": "one construction of hose",
    "parts": "one part number with price and lead time",
    "inspections": "one inspection of a place",
    "teardowns": "one finding on a hose taken apart",
    "usage": "one reading of a meter of run hours or cycles",
    "stock": "one count of a part in store",
    "trials": "one place of a trial",
}
"""What one row of a file can be, as a question puts it."""

LOGS = (
    ("Places", "where each hose sits and what it does there",
     "a name for the place; what the place does to its hose", "every figure"),
    ("Hoses going in", "what was fitted where, and when",
     "the day; the place; better with the construction or part number", "every figure"),
    ("Hoses coming out", "what came out, when, and why",
     "the day; the place; the reason: failed, or changed as planned", "every figure"),
    ("Parts", "what a hose costs and how long it takes to get",
     "part number; construction; price; lead time", "cost and orders"),
)
"""The four logs: what each is, what it must hold, what it is for."""

STEPS = (
    ("making the logs", "making the invented logs"), ("reading", "reading the logs"),
    ("checking", "checking each row"), ("building lives", "following each hose"),
    ("estimating", "estimating lives"), ("forecasting", "forecasting and ranking"),
    ("making the published", "writing the tables"), ("publishing", "publishing"),
)
"""How the words of the job begin, and the step of it in plain words, in order."""

COLUMN_WORDS = {
    "service_point": "Place", "application_class": "What the place does", "installed_on": "Went in",
    "removed_on": "Came out", "reason": "Why it came out", "hose_id": "Tag of the hose",
    "construction": "Construction", "part_number": "Part number", "part_cost": "Cost of the part",
    "labour_cost": "Cost of the work", "other_cost": "Other cost", "downtime_h": "Hours of stop",
    "mechanism": "How it failed",
}
"""Columns that most files have, as a newcomer would call them."""


LOG_NAMES = {"service_points": "Places", "installations": "Hoses going in",
             "replacements": "Hoses coming out"}
"""The logs that a row of a hose feeds, as the first table of the page calls them."""

NOT_SAID = "not said: refused"
"""Stands for no answer: the rows are refused until there is one."""

SERIALS = ("A spreadsheet keeps days as numbers; most count from 1900, some older ones from 1904. "
           "Take the one that gives the day you know.")

SHEETS = ("the workbook has more sheets ({sheets}), and one of them is read here. Press “Look "
          "again” to go on with the columns below, and save each other sheet that holds records as "
          "a file of its own; or name the sheets in the mapping file, below.")

KEPT = ("An export of work orders holds other jobs as well. Say by which words the rows of hoses "
        "are known, parted by commas; the others are left out and counted.")

ABOVE = {
    "is not one of the known words": "Say above what it means, or correct the cell.",
    "is a number of days, and from which year it counts is not declared":
        "Say above from where the days count.",
    "is not a date": "Say above how days are written where it is asked, or correct the cell.",
    "is not a number": "Choose its column and unit above, or correct the cell.",
    "is not an amount": "Choose its column and say the currency above, or correct the cell.",
    "is empty": "Fill it in, or choose above the column that holds it.",
}
"""What to do on this page about rows that would be refused; other reasons say it themselves."""

BY_HAND = (
    ("sheet", "which sheet of a workbook is meant; one [[file]] for each",
     'sheet = "Changes"'),
    ("columns", "a place named by two columns together",
     '[file.columns]\nservice_point = ["Asset", "Position"]'),
    ("header_row", "the line with the names of the columns, where it was not found",
     "header_row = 4"),
    ("no_date", "cells that stand for no day", 'no_date = ["n/k", "01.01.1900"]'),
    ("exported_on", "of which day an export is, where files are loaded out of turn",
     "exported_on = 2026-10-31"),
    ("file.constants", "a word that is the same in all rows",
     '[file.constants]\nclock = "run_hours"'),
    ("file.find", "a mechanism guessed from words of a free text, marked as a guess",
     '[file.find.mechanism]\ncolumn = "Short text"\nwords = { "cracked weld" = "weld_fitting" }'),
    ("file.skip", "cells whose rows are left out", '[file.skip]\n"Status" = ["CANCELLED"]'),
    ("file.extract", "part of a cell, by a pattern",
     '[file.extract.hose_id]\ncolumn = "Text"\npattern = "TAG ([0-9]+)"'),
    ("renamed_places", "old names of places", '[renamed_places]\n"CIP 4 return" = "CIP-04-R"'),
    ("delimiter, encoding", "where letters or columns of a text file come out wrong",
     'delimiter = ";"\nencoding = "latin-1"'),
    ("two_digit_year_pivot", "from which two-digit year on years belong to the last century",
     "two_digit_year_pivot = 70"),
    ("time_zone", "by which clock instants of a Parquet file are days",
     'time_zone = "Europe/Oslo"'),
)
"""What only the mapping file can say: the key, what for, and its lines."""

LACKING = {
    "reason": ("No column says why hoses came out. ",
               "Without it no removal counts as a failure, and no life can be told. Choose the "
               "column that says so under “Why it came out”."),
}
"""Columns that a file may lack, and what a ranking without them cannot say."""


def column_label(name: str) -> str:
    """Return a column's name for people.

    Examples
    --------
    >>> column_label("service_point"), column_label("bend_radius_mm")
    ('Place', 'Bend radius mm')
    """
    plain = name.replace("_", " ")
    return COLUMN_WORDS.get(name, plain[:1].upper() + plain[1:])


def step_of(said: str) -> tuple[int, str]:
    """Return the number of a step among `STEPS` and its plain words; 0 where it is none of them.

    Examples
    --------
    >>> step_of("estimating lives"), step_of("reading hoses.csv"), step_of("waiting")
    ((5, 'estimating lives'), (2, 'reading the logs'), (0, 'waiting'))
    """
    for number, (start, plain) in enumerate(STEPS, start=1):
        if said.startswith(start):
            return number, plain
    return 0, said
