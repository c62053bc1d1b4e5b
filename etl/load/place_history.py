"""What a mapping file says about places: their earlier names, and hoses that changed places."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from etl.load.declared import Day
from etl.load.options import PlaceNames


class Strict(BaseModel):
    """A table of the mapping file, in which an unknown key is an error."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def last_names(names: dict[str, str]) -> dict[str, str]:
    """Follow each old name of a place to its last one.

    Raises
    ------
    ValueError
        Names lead in a circle, or one of them is empty.
    """
    found = {}
    for old in names:
        new, passed = old, []
        while new in names:
            if new in passed:
                raise ValueError(f"{old!r} is renamed in a circle. Remove one of the lines.")
            passed.append(new)
            new = names[new].strip()
        if not new or not old.strip():
            raise ValueError(f"{old!r} = {new!r} names no place. Correct the line.")
        found[old] = new
    return found


def pooled_names(mappings: Iterable[dict[str, str]]) -> PlaceNames:
    """Put the renamed places of all mappings together; none goes before another.

    Parameters
    ----------
    mappings : iterable of dict of str to str
        Old name -> last one, of each mapping.

    Returns
    -------
    PlaceNames
        Mappings agree on a name, too, where one of them leads the other's new name on.

    Examples
    --------
    >>> pooled_names([{"A": "B"}, {"A": "C", "B": "C"}, {"D": "E"}, {"D": "F"}])
    PlaceNames(agreed={'A': 'C', 'B': 'C'}, disputed={'D': ('E', 'F')})
    """
    told: dict[str, list[tuple[str, dict[str, str]]]] = {}
    for names in mappings:
        plain = {old.strip(): new for old, new in names.items()}
        for old, new in plain.items():
            told.setdefault(old, []).append((new, plain))
    led = {old: _last_of(new) for old, new in told.items()}
    return PlaceNames({old: new[0] for old, new in led.items() if len(new) == 1},
                      {old: new for old, new in led.items() if len(new) > 1})


def _last_of(told: list[tuple[str, dict[str, str]]]) -> tuple[str, ...]:
    """Return the new names of one old name, but those that a mapping leads to its own new one."""
    found = {new for new, _ in told}
    if len(found) > 1:
        found -= {earlier for new, names in told for earlier in found
                  if earlier != new and names.get(earlier) == new}
    return tuple(sorted(found))


class Swap(Strict):
    """Two hoses that changed places although no log says so."""

    on: Day
    places: Annotated[list[str], Field(min_length=2, max_length=2)]
    hoses: list[str] = []
    """Their tags, in the order of the places that they came out of; none where they have none."""

    @model_validator(mode="after")
    def _fits(self) -> Self:
        if len(self.hoses) not in (0, 2):
            raise ValueError("hoses names the hose that came out of each place, or is left out")
        if len(set(self.places)) < 2 or len(self.hoses) != len(set(self.hoses)):
            raise ValueError("places and hoses of a swap must differ")
        return self
