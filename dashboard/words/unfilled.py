"""What a page that has nothing yet will show, and which logs fill it."""

from __future__ import annotations

PLACES = ("Places", "a name for each place, and what the place does to its hose", "needed")
WENT_IN = ("Hoses going in", "the day and the place; better with the construction", "needed")
CAME_OUT = ("Hoses coming out", "the day, the place and the reason: failed, or changed as planned",
            "needed")
PRICES = ("Parts", "part number, price and lead time", "for cost and orders")

FILLED_BY = {
    "month": (
        "What came out last month and failed against the forecast, what it cost, the ten places to "
        "act on, and the changes that fall due.",
        (PLACES, WENT_IN, CAME_OUT, PRICES)),
    "places": (
        "Every place with how fast it goes through hoses against like places, what it is expected "
        "to cost next year, and the next step.",
        (PLACES, WENT_IN, CAME_OUT, PRICES)),
    "lives": (
        "How long each construction lasts in each application: the age by which ten hoses in a "
        "hundred have failed, with its range.",
        (PLACES, ("Hoses going in", "the day, the place and the construction, for a day or more "
                  "before the data date", "needed"), CAME_OUT)),
    "vibration": (
        "How long each construction lasts at each velocity and frequency, and which one would "
        "outlast the present one at a place.",
        (("Places or inspections", "velocity at the hose ends with its main frequency, at every "
          "place of a class and not only where hoses fail; at twenty of them twice", "needed"),
         ("Hoses coming out", "the mechanism of each failure, as people concluded it", "needed"),
         ("Constructions", "stiffness and mass: the natural frequency follows from them",
          "for the maps"))),
    "teardown": (
        "What the findings on each hose suggest, what people concluded, and what to look at next.",
        (("Teardowns", "one row a finding; a row can also be entered here, hose by hose, once a "
          "removal is on record", "needed"),)),
    "trials": (
        "At which places a trial of two constructions pays, its plan, and how running trials "
        "stand.",
        (CAME_OUT, ("Constructions", "stiffness, mass, rating and bend radius: which two may stand "
                    "against each other", "needed"), PRICES,
         ("Trials", "trial, place, arm and construction", "for running trials"))),
    "spares": (
        "What to order now, how many of each part to hold, and what next year will cost.",
        (("Hoses going in", "the part number of each hose in service", "needed"), CAME_OUT,
         ("Parts", "price and lead time", "for cost and orders"),
         ("Stock", "what is in store and on order", "for what to order now"))),
}  # fmt: skip
"""By page: what it will show, and each log with what it must hold and what it is for."""
