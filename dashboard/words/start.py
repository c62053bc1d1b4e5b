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
