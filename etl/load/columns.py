"""The published columns of the ten logs: one line a column.

Everything that reads, types, checks or documents a log goes by this catalogue, so that a new
column is one new line here. Kinds:

==========  ======================================================================================
text        any text, outer blanks removed
tag         an identity: kept exactly apart from outer blanks, never read as a number
date        a day; ISO unless the mapping declares formats
number      a decimal number
integer     a whole number
money       an amount in the reporting currency, two decimals
yes_no      yes or no
word        one word of a closed vocabulary
words       several words of a closed vocabulary, separated by comma, semicolon, bar or plus
==========  ======================================================================================
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Column:
    """One column of a log."""

    name: str
    kind: str
    is_required: bool
    unit: str
    """Unit in which values are stored; a mapping may declare another one for its cells."""
    meaning: str
    words: tuple[str, ...] = ()
    """The closed vocabulary of kinds ``word`` and ``words``; empty for the other kinds."""
    is_telling: bool = False
    """True where an empty cell says something (a new hose, no hazard, nothing on order), so that
    one that cannot be read keeps its whole row out instead of being left empty."""


@dataclass(frozen=True)
class Log:
    """One log: its columns, the key by which a later row supersedes an earlier one, its use."""

    name: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    """Natural key, compared so that two empty cells are equal; a mapped row_id replaces it."""
    meaning: str
    alternatives: tuple[tuple[str, ...], ...] = ()
    """Sets of columns of which at least one must be there, where the required ones do not say."""

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the columns in their published order."""
        return tuple(column.name for column in self.columns)

    def spares(self, column: Column) -> bool:
        """Say whether a cell of `column` that cannot be read is left out while its row stays."""
        return not (column.is_required or column.is_telling or column.name in self.key)

    @property
    def required(self) -> tuple[str, ...]:
        """Names of the columns without which a file of this log cannot be loaded."""
        return tuple(column.name for column in self.columns if column.is_required)

    def column(self, name: str) -> Column:
        """Return the column called `name`; KeyError if the log has none."""
        return self._by_name()[name]

    def _by_name(self) -> dict[str, Column]:
        return {column.name: column for column in self.columns}


def _c(name: str, kind: str, meaning: str, unit: str = "", words: str = "") -> Column:
    """Build a column: name* is required, name! tells by being empty, blanks part `words`."""
    return Column(name.rstrip("*!"), kind, name.endswith("*"), unit, meaning,
                  tuple(words.split()), name.endswith("!"))


HAZARDS = "hot pressure toxic flammable cryogenic asphyxiant"
REASONS = (
    "failed found_failed removed_degraded planned opportunity upgraded relocated retired unknown"
)

IN_EVERY_LOG = (
    _c("row_id", "tag", "the site's own number of this record, its key where there is one"),
    _c("deleted!", "yes_no", "yes in a later file takes the record back"),
)

SERVICE_POINTS = (
    _c("service_point*", "tag", "place where one hose sits"),
    _c("application_class*", "text", "what the place does to its hose"),
    _c("site", "text", "works or plant"),
    _c("area", "text", "part of the site"),
    _c("line", "text", "production line or system"),
    _c("equipment", "tag", "machine that the hose serves"),
    _c("medium", "text", "what flows through"),
    _c("hazards!", "words", "dangers of the medium and its state", words=HAZARDS),
    _c("dn", "integer", "nominal diameter"),
    _c("pressure_bar", "number", "working pressure, gauge", "bar"),
    _c("temperature_c", "number", "working temperature", "degC"),
    _c("flow_velocity_m_s", "number", "flow velocity", "m/s"),
    _c("movement", "text", "kind of movement, such as static, offset, loop or vibration"),
    _c("vibration_mm_s_rms", "number", "vibration velocity, root mean square", "mm/s"),
    _c("vibration_hz", "number", "main vibration frequency", "Hz"),
    _c("displacement_mm", "number", "travel of the moving end", "mm"),
    _c("live_length_mm", "number", "flexible length", "mm"),
    _c("bend_radius_mm", "number", "bend radius as fitted", "mm"),
    _c("plane", "word", "movement in or out of the plane of the bend", words="in out unknown"),
    _c("run_hours_per_year", "number", "declared duty", "h"),
    _c("downtime_cost_per_hour", "money", "cost of an hour's stop"),
    _c("unplanned_downtime_h", "number", "stop caused by a failure", "h"),
    _c("planned_downtime_h", "number", "stop for a planned replacement", "h"),
    _c("labour_h", "number", "work of one replacement", "h"),
    _c("records_from!", "date", "first day from which removals were recorded"),
    _c("commissioned_on", "date", "day the place first had a hose in service"),
    _c("retired_on!", "date", "day the place was taken out of use"),
    *IN_EVERY_LOG,
)

CONSTRUCTIONS = (
    _c("construction*", "tag", "how the hose is built, by the name used in the logs"),
    _c("core_alloy", "text", "alloy of the corrugated core"),
    _c("corrugation", "word", "shape of the corrugation", words="annular helical"),
    _c("pitch", "word", "spacing of the corrugations", words="open standard close"),
    _c("wall_mm", "number", "thickness of one ply", "mm"),
    _c("plies", "integer", "plies of the core"),
    _c("braid_layers", "integer", "layers of braid"),
    _c("braid_alloy", "text", "alloy of the braid"),
    _c("wear_layer", "text", "guard or casing over the braid"),
    _c("liner", "text", "liner inside the core"),
    _c("dn", "integer", "nominal diameter that the following figures hold for"),
    _c("mass_kg_per_m", "number", "mass per length", "kg/m"),
    _c("bending_stiffness_n_m2", "number", "bending stiffness", "N m2"),
    _c("min_bend_radius_static_mm", "number", "smallest bend radius, bent once", "mm"),
    _c("min_bend_radius_dynamic_mm", "number", "smallest bend radius, moving", "mm"),
    _c("rated_pressure_bar", "number", "rated working pressure at 20 degC, gauge", "bar"),
    *IN_EVERY_LOG,
)

PARTS = (
    _c("part_number*", "tag", "number under which the hose is bought"),
    _c("construction*", "tag", "how the hose is built"),
    _c("dn", "integer", "nominal diameter"),
    _c("live_length_mm", "number", "flexible length", "mm"),
    _c("end_a", "text", "fitting at one end"),
    _c("end_b", "text", "fitting at the other end"),
    _c("unit_price", "money", "price of one"),
    _c("lead_time_days", "number", "wait from order to delivery", "d"),
    _c("lead_time_sd_days", "number", "standard deviation of that wait", "d"),
    _c("minimum_order", "integer", "least number that can be ordered"),
    _c("shelf_life_days", "number", "longest storage", "d"),
    _c("replaces", "tag", "part number that this one replaces"),
    *IN_EVERY_LOG,
)

INSTALLATIONS = (
    _c("installed_on*", "date", "day the hose went in"),
    _c("service_point*", "tag", "place it went in at"),
    _c("hose_id", "tag", "serial or tag of the hose"),
    _c("part_number", "tag", "part that was fitted"),
    _c("construction", "tag", "how the hose is built, where no part number says so"),
    _c("age_at_installation!", "number", "age of a hose that was not new", "d"),
    _c("work_order", "tag", "work order"),
    *IN_EVERY_LOG,
)

REPLACEMENTS = (
    _c("removed_on*", "date", "day the hose came out"),
    _c("service_point*", "tag", "place it came out of"),
    _c("reason*", "word", "why it came out", words=REASONS),
    _c("hose_id", "tag", "serial or tag of the hose"),
    _c("last_seen_good_on!", "date", "last day it was seen in order"),
    _c("mechanism", "text", "how it failed, as concluded"),
    _c("part_cost", "money", "cost of the part"),
    _c("labour_cost", "money", "cost of the work"),
    _c("downtime_h", "number", "stop", "h"),
    _c("other_cost", "money", "clean-up, lost product and other costs"),
    _c("planned", "yes_no", "was the work planned beforehand"),
    _c("work_order", "tag", "work order"),
    *IN_EVERY_LOG,
)

INSPECTIONS = (
    _c("inspected_on*", "date", "day of the inspection"),
    _c("service_point*", "tag", "place inspected"),
    _c("condition*", "word", "condition found", words="good worn failed"),
    _c("vibration_mm_s_rms", "number", "vibration velocity measured", "mm/s"),
    _c("vibration_hz", "number", "main vibration frequency measured", "Hz"),
    _c("natural_frequency_hz", "number", "lowest natural frequency found by a bump test", "Hz"),
    _c("note", "text", "note"),
    *IN_EVERY_LOG,
)

TEARDOWNS = (
    _c("examined_on*", "date", "day of the examination"),
    _c("hose_id", "tag", "serial or tag of the hose"),
    _c("service_point", "tag", "where it came out of, where there is no hose_id"),
    _c("removed_on", "date", "when it came out, where there is no hose_id"),
    _c("finding*", "tag", "what was found, one finding a row"),
    _c("value", "text", "figure or word that goes with the finding"),
    _c("examiner", "text", "who examined it"),
    _c("note", "text", "note"),
    *IN_EVERY_LOG,
)

USAGE = (
    _c("equipment", "tag", "machine whose meter was read"),
    _c("service_point", "tag", "place whose meter was read, where there is no equipment"),
    _c("read_on*", "date", "day of the reading"),
    _c("clock*", "word", "what the meter counts", words="run_hours cycles"),
    _c("reading*", "number", "what the meter showed"),
    *IN_EVERY_LOG,
)

STOCK = (
    _c("part_number*", "tag", "part"),
    _c("as_of*", "date", "day of the count"),
    _c("on_hand*", "number", "in store"),
    _c("on_order!", "number", "ordered and not yet delivered"),
    _c("due_on!", "date", "day the order is due"),
    *IN_EVERY_LOG,
)

TRIALS = (
    _c("trial*", "tag", "name of the trial"),
    _c("service_point*", "tag", "place that takes part"),
    _c("arm*", "tag", "side of the trial that the place is on"),
    _c("construction*", "tag", "construction tried there"),
    _c("started_on*", "date", "first day"),
    _c("ended_on!", "date", "last day"),
    _c("decision", "text", "what was decided"),
    _c("decision_reason", "text", "why it was decided so"),
    _c("pair", "tag", "pair of like places, the same for both arms"),
    _c("planned_end_on", "date", "last day, fixed before the start"),
    _c("planned_failures", "number", "failures in both arms at which all error of the test is "
       "spent, fixed before the start"),
    _c("early_failure_limit", "number", "chance of an early failure that an arm may have, 0 to 1, "
       "fixed before the start"),
    _c("expected_life_ratio", "number", "life of this arm over the other's, as believed before "
       "the start"),
    _c("expected_life_ratio_log_sd", "number", "standard deviation of its logarithm"),
    _c("coin_seed", "integer", "number from which the coins of the pairs were tossed"),
    _c("rule", "text", "rule of the trial in words, fixed before the start"),
    *IN_EVERY_LOG,
)

LOGS: dict[str, Log] = {
    log.name: log
    for log in (
        Log("service_points", SERVICE_POINTS, ("service_point",), "register of places"),
        Log("constructions", CONSTRUCTIONS, ("construction", "dn"), "register of constructions"),
        Log("parts", PARTS, ("part_number",), "register of parts"),
        Log("installations", INSTALLATIONS, ("service_point", "installed_on", "hose_id"),
            "every hose that went in"),
        Log("replacements", REPLACEMENTS, ("service_point", "removed_on", "hose_id"),
            "every hose that came out, whether or not a new one went in"),
        Log("inspections", INSPECTIONS, ("service_point", "inspected_on", "condition"),
            "inspections in service"),
        Log("teardowns", TEARDOWNS,
            ("hose_id", "service_point", "removed_on", "examined_on", "finding"),
            "findings on removed hoses", (("hose_id",), ("service_point", "removed_on"))),
        Log("usage", USAGE, ("equipment", "service_point", "read_on", "clock"),
            "meter readings", (("equipment",), ("service_point",))),
        Log("stock", STOCK, ("part_number", "as_of"), "stock counts"),
        Log("trials", TRIALS, ("trial", "service_point", "arm"), "side-by-side trials"),
    )
}


def described() -> list[dict[str, Any]]:
    """Return every column that a log may have as a row for readers, in the order of the logs."""
    return [
        {"log": log.name, "position": position, "column_name": column.name, "kind": column.kind,
         "unit": column.unit, "is_required": column.is_required, "meaning": column.meaning,
         "words": ", ".join(column.words)}
        for log in LOGS.values()
        for position, column in enumerate(log.columns, start=1)
    ]
