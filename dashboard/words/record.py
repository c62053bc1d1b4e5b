"""The steps of taking a hose apart with care, and what is said on each; our own words."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Step:
    """One step of a teardown.

    Attributes
    ----------
    key : str
        As entries name it; the steps of findings are named by where a finding is looked at.
    title : str
    do : tuple of str
        What to do, one sentence each.
    caution : tuple of str
        Lead and text; empty where the caution of the page is enough.
    has_findings : bool
        Whether findings are asked for after the step's own screen.
    """

    key: str
    title: str
    do: tuple[str, ...]
    caution: tuple[str, ...] = ()
    has_findings: bool = False


BEGIN, MAKE_SAFE, PHOTOGRAPH, CONCLUDE = "begin", "make safe", "photograph", "conclude"
SAFE = (
    ("isolated", "Isolated on both sides, locked out and tagged; nothing can start it from afar"),
    ("drained", "Depressurised, drained and vented; zero energy proven at the hose"),
    ("cooled", "Cooled, or warmed, to a temperature that hands bear"),
    ("medium", "Last medium known, hose cleaned of it; protection worn that the permit asks for"),
    ("lagging", "Lagging and gaskets checked for asbestos before anything is disturbed"),
    ("ends", "Nobody in line with an end that could whip or drop when it is loosened"),
)
STEPS = (
    Step(BEGIN, "Before you begin", (
        "Answers are saved one by one; you can stop at any time and go on here later.",
        "“Not checked” is an honest answer: it moves nothing and only lowers the coverage.",
    )),
    Step(MAKE_SAFE, "Make safe", ("Confirm each line before the hose is touched.",), (
        "A hose holds stored energy.",
        "If one of these cannot be confirmed, stop here. Local codes, the site's permit and "
        "licensed practice come first; this list replaces none of them.")),
    Step("mark", "Mark it where it sits", (
        "Mark the top, the direction of flow, the machine's side and the plane of the bend.",
        "Draw a straight line along the hose before anything is loosened: it shows twist later.",
        "Then loosen one end only, and watch whether it springs, turns or drops.",
    )),
    Step(PHOTOGRAPH, "Photograph it in place", (
        "From two directions at right angles, with a scale in the picture.",
        "Later all four sides of the whole hose, and every mark before it is touched.",
    )),
    Step("in place", "Measure and look in place", (
        "Offset and angle of the ends, live length, tightest bend, points of contact, how the "
        "pipe is held. Put figures into the note.",
    ), (), True),
    Step("records", "What the records say", (
        "Work orders, pressure and flow records, the batch, other hoses of this place.",
    ), (), True),
    Step("hose outside", "Look at the hose from outside", (
        "On a flat table: shape, braid, collars, welds, marks. Note how far from end A and at "
        "which hour of the clock.",
        "Find the leak before anything is cut, at low pressure and behind a shield, by someone who "
        "is licensed to.",
    ), ("Never put pressure on a hose with found damage", "to see whether it holds."), True),
    Step("braid off", "Take the braid off", (
        "Cut it well away from the leak and keep it. Do not grind near the leak.",
        "Look at the inside of the braid before it is wiped.",
    ), ("Cut wires are sharp and under tension.", "Gloves, eye protection, a vice that holds."),
        True),
    Step("core open", "Open the core", (
        "Split it lengthwise away from the leak. Keep a sample of what lies in it.",
    ), ("What was inside may still be there.", "Treat deposits as the last medium."), True),
    Step("laboratory", "On the fracture, in a laboratory", (
        "Only where it matters: the crack opened, looked at under low power, then the electron "
        "microscope; wall thickness and a section at the crack and at a sound place.",
    ), (), True),
    Step(CONCLUDE, "Look it over and conclude", ()),
)
BY_KEY = {step.key: step for step in STEPS}
CAN_BE = {"present": "Yes, it is there", "absent": "No, it is not", "not checked": "Not checked"}
SAID = {"present": "there", "absent": "not there", "not checked": "not checked"}
EXCLUSION = (
    "Vibration is concluded by exclusion,",
    "not because the machine shakes: a crack round the hose, everything else ruled out, and a "
    "positive sign.",
)
CAUTION_BESIDE = (
    "A suggestion for a qualified person.",
    "Weights are our judgement; a likely mechanism is not a proven one.",
)
