"""What a mapping file says about places: their earlier names, and hoses that changed places."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from etl.load.declared import Day


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
