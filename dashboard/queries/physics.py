"""The sheet of rough physics: what the register knows of a place, and what follows from figures.

The one question that is not answered from the edition alone: formulas are worked out anew for the
figures that the reader gives, by the same functions as the screens of every place.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache

from dashboard.queries.edition import Row, ask_one
from etl.decide.screens import sheet
from etl.decide.screens.frequency import EIGENVALUES
from etl.decide.screens.line import Line
from etl.load.seeds import rows

ENDS = tuple(EIGENVALUES)
"""How the ends of a hose may be held."""
Given = Mapping[str, float | None]


def duty(place: str) -> Row | None:
    """Return what register, latest look and catalogue say of a place; None without a hose there."""
    return ask_one("select * from place_duty where service_point = $place", {"place": place})


@cache
def alloys() -> tuple[str, ...]:
    """Return the core alloys whose derating is known."""
    return tuple(dict.fromkeys(row["core_alloy"] for row in rows("derating")))


@cache
def _derating(alloy: str) -> list[tuple[float, float]]:
    return sorted((float(row["temperature_c"]), float(row["share"]))
                  for row in rows("derating") if row["core_alloy"] == alloy)


@cache
def _published(name: str) -> Sequence[Mapping[str, str]]:
    return rows(name)


def worked_out(given: Given, ends: str, alloy: str) -> dict[str, list[Line]]:
    """Return the lines of every subject whose inputs are known.

    Parameters
    ----------
    given : mapping
        Figures as stored (SI), by the names of `etl.decide.screens.sheet`.
    ends : str
        One of `ENDS`.
    alloy : str
        One of `alloys`, or another word for an alloy without a table.
    """
    return {
        "vibration": list(sheet.vibration_lines(given, _published("vibration_lines"))),
        "frequency": list(sheet.frequency_lines(given, ends)),
        "bend": list(sheet.bend_lines(given)),
        "pressure": list(sheet.pressure_lines(given, _derating(alloy) or None)),
        "flow": list(sheet.flow_lines(given, _published("flow_speeds"))),
    }
