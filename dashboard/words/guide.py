"""The three ways through the pages, step by step, as the guide tells them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Step:
    """One step: the page it begins on, and what to do there."""

    href: str
    page: str
    words: str


@dataclass(frozen=True)
class Journey:
    """A task of one kind of reader, from the question to something to take away."""

    title: str
    question: str
    steps: tuple[Step, ...]


JOURNEYS = (
    Journey(
        "Planner: the month in half an hour",
        "What failed, was that more than expected, and what is to be done in the next shutdown?",
        (
            Step("/", "This month", "Read the sentence: hoses out, failures against the forecast "
                 "made before the month, and where the money went."),
            Step("/", "This month", "Go down the ten places. Each has its reason, its expected "
                 "cost and a next step; a bar that is wide says that little is known."),
            Step("/", "This month", "Under Due, the changes that pay, or that a rule of the site "
                 "demands, stand by shutdown and line. Take the list away as a workbook."),
            Step("/track-record", "Track record", "Before a meeting, look at how often earlier "
                 "forecasts were right. It is fair to say it there."),
        ),
    ),
    Journey(
        "Engineer: one line that eats hoses",
        "Which place is it, how do its hoses die, and what could be tried instead?",
        (
            Step("/places", "Places", "Choose the line, or type its name in the search box, and "
                 "sort by how fast places fail against like places."),
            Step("/places", "One place", "See the hoses it has had on one time axis, survival here "
                 "against like places, and what the evidence points to."),
            Step("/teardown", "Teardown", "For hoses taken apart: what speaks for and against each "
                 "mechanism, and what to look at next."),
            Step("/lives", "Lives", "Open the kind of hose. The probability plot shows whether one "
                 "law describes its failures, and mechanisms stand side by side."),
            Step("/trials", "Trials", "Where a trial would pay, two contrasting constructions are "
                 "named with reasons, how many pairs it takes, and the rule to fix beforehand."),
        ),
    ),
    Journey(
        "Buyer: an order list that survives questions",
        "What must be ordered now, how many, and why so many?",
        (
            Step("/spares", "Spares", "The list to order now stands first, with quantity, price "
                 "and reason. Take it away as a file."),
            Step("/spares", "Spares", "Open a part: demand over its lead time as a range against "
                 "what is in store and on order, and the service level with its reason."),
            Step("/spares", "Spares", "Ask what if: a longer lead time, another service level, "
                 "the plan left out. The answer comes at once."),
            Step("/spares", "Spares", "The budget by month has a sum of even odds and one that is "
                 "enough nine times in ten; parts that could stand in are named with what speaks "
                 "against them."),
        ),
    ),
)

DECLARED = (
    "A place that has a new name keeps its history when columns.toml, beside the logs, leads the "
    "old name to the one in the register. Hoses that changed over between two places although no "
    "log says so are declared there too, or on the page of either place: each comes out as "
    "relocated and goes in at the other place with its age. The tags may be left out. Then load "
    "the logs again.")
DECLARATIONS = """\
[renamed_places]
"CIP 4 return" = "CIP-04-R"

[[swap]]
on = 2026-03-14
places = ["CIP-04-R", "CIP-05-R"]
hoses = ["0417", "0422"]
"""
"""Read by a test, so that it stays what a load understands."""
