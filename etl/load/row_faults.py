"""What can be wrong with a typed row: faults that keep it out, and cells left out of it alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from etl.load.columns import Log
from etl.load.quoting import literal
from etl.load.typed_cells import BLANKS, MARKED, NEGATIVE, UNREADABLE, TypedCell

REGISTERS = ("service_points", "constructions", "parts")
"""Logs that say what a thing is: always keyed by its name, so that no name stands there twice."""
ROW_FAULTS = {
    "replacements": (("last_seen_good_on", "t_last_seen_good_on > t_removed_on",
                      "lies after the removal"),),
    "teardowns": (("examined_on", "t_examined_on < t_removed_on", "lies before the removal"),
                  ("hose_id", "t_hose_id is null and not is_taken_back"
                   " and (t_service_point is null or t_removed_on is null)",
                   "is empty, and so is service_point or removed_on")),
    "usage": (("service_point", "t_service_point is null and t_equipment is null"
               " and not is_taken_back", "is empty, and so is equipment"),),
    "trials": (("ended_on", "t_ended_on < t_started_on", "lies before the start"),),
}
"""Faults that two cells of one row make together: column, condition, reason."""
UNKNOWN_POINT = "is no known service point"
RENAMED = "is the old name of a place that has a row of its own"
REASONS = "struct(column_name varchar, value varchar, reason varchar)[]"


class Fault(NamedTuple):
    """Something that can be wrong with a row: SQL condition over its typed cells, and words."""

    column: str
    condition: str
    reason: str
    value: str
    """SQL for the cell as it stands in the file."""
    keeps_row_out: bool
    """False where the cell is left out and the row stays."""


def faults_of(log: Log, cells: Mapping[str, TypedCell], is_renamed: bool) -> list[Fault]:
    """Return all that can be wrong with a row by its own cells."""
    faults = [Fault(name, condition, reason, as_written(name, cell),
                    _keeps_row_out(log, name, reason))
              for name, cell in cells.items() for condition, reason in cell.faults]
    faults += [Fault(name, condition, reason, as_written(name, cells[name]), True)
               for name, condition, reason in ROW_FAULTS.get(log.name, ())]
    if log.name == "service_points" and is_renamed and cells["service_point"].is_read:
        faults.append(Fault(
            "service_point", "t_service_point <> s_service_point and (t.load_id, t.entry_no, "
            f"t_service_point) in (select (load_id, entry_no, trim(service_point, {BLANKS})) "
            "from raw.service_points)", RENAMED, "t.service_point", True))
    elif log.name != "service_points" and "service_point" in cells:
        faults.append(Fault("service_point", "t.point_no is null and t.t_service_point is not null",
                            UNKNOWN_POINT, as_written("service_point", cells["service_point"]),
                            True))
    return faults


def as_written(name: str, cell: TypedCell) -> str:
    """Return SQL for a cell as it stands in the file; none is carried where no row has one."""
    return f"t.{name}" if cell.is_read else "null::varchar"


def _keeps_row_out(log: Log, name: str, reason: str) -> bool:
    """Say whether a fault of one cell keeps the whole row out.

    An amount below nothing in an event is no slip in a cell: it may be a credit for another row.
    """
    is_credit = reason == NEGATIVE and log.name not in REGISTERS
    return is_credit or not log.spares(log.column(name))


def kept(name: str, cell: TypedCell, faults: Sequence[Fault]) -> str:
    """Return SQL for a typed cell, empty where it is left out of a row that stays.

    One that could not be read is empty already.
    """
    wrong = [f"({fault.condition})" for fault in faults
             if fault.column == name and not fault.keeps_row_out
             and fault.reason not in (*UNREADABLE.values(), *MARKED.values())]
    typed = f"t.t_{name}" if cell.is_read else cell.value
    return f"case when {' or '.join(wrong)} then null else {typed} end" if wrong else typed


def is_out(faults: Sequence[Fault]) -> str:
    """Return SQL that says whether a fault keeps the row out."""
    whole = " or ".join(f"({fault.condition})" for fault in faults if fault.keeps_row_out)
    # As a case it stops at a row's first fault; as a value every condition would be worked out.
    return f"case when {whole} then true else false end" if whole else "false"


def reasons(faults: Sequence[Fault]) -> str:
    """Return SQL for the two lists of faults, built only for rows that have one.

    ``reasons`` are all faults of a row that is kept out; ``cell_reasons`` those of one that stays.
    """
    spared = [fault for fault in faults if not fault.keeps_row_out]
    cells = " or ".join(f"({fault.condition})" for fault in spared)
    of_cells = (f"case when not is_out and ({cells}) then {_listed(spared)} end" if cells
                else f"null::{REASONS}")
    return (f"case when is_out then {_listed(faults)} end as reasons,\n"
            f"    {of_cells} as cell_reasons")


def _listed(faults: Sequence[Fault]) -> str:
    """Return SQL for the list of those faults that a row has."""
    listed = ",\n        ".join(
        f"case when {fault.condition} then {{'column_name': {literal(fault.column)}, "
        f"'value': {fault.value}, 'reason': {literal(fault.reason)}}} end" for fault in faults)
    return f"list_filter([\n        {listed}],\n        lambda fault: fault is not null)"
