"""Life under vibration: from the records to the frames of the published tables."""

from __future__ import annotations

import duckdb
import pandas as pd

from etl.build.aside import HERE, Aside
from etl.build.statistics import LifeStatistics
from etl.build.trial.table import derating
from etl.build.vibration.frames import (
    constructions_frame,
    curves_frame,
    empty_summary,
    errors_frame,
    places_frame,
    summary_frame,
)
from etl.build.vibration.input import VibrationInput, read_vibration
from etl.build.vibration.maps import CELL_COLUMNS, CHOICE_COLUMNS, cells_frame, choices_frame
from etl.build.vibration.model import lacking, model_of
from etl.errors import FitError
from etl.load.warehouse import run_layer
from etl.settings import Settings

TEXTS = {"application_class", "construction", "present_construction", "service_point", "reason",
         "status", "words", "alarm_words"}
COUNTS = {"n_places", "n_places_read", "n_readings", "n_repeats", "n_lives", "n_failures",
          "n_unknown_failures", "n_old_at_start", "n_unexplained", "n_common_places",
          "n_effective"}
FLAGS = {"is_shown", "is_estimated", "is_error_known", "alarm"}
BOUNDS = ("", "_lower", "_upper")
EMPTY = {
    "constructions": ["construction", "n_lives", "n_failures", "n_unknown_failures", "n_places",
                      "lowest_mm_s", "highest_mm_s", *(f"exponent{end}" for end in BOUNDS),
                      *(f"shape{end}" for end in BOUNDS), "misfit_p_value", "is_shown", "reason"],
    "lives": ["application_class", "construction", "velocity_mm_s",
              *(f"b10_days{end}" for end in BOUNDS)],
    "cells": CELL_COLUMNS,
    "places": ["service_point", "application_class", "construction",
               *(f"velocity_mm_s{end}" for end in BOUNDS), "n_readings", "frequency_hz",
               "natural_frequency_hz", "n_lives", "n_failures"],
    "choices": CHOICE_COLUMNS,
    "errors": ["error_sd", "is_estimated", *(f"exponent{end}" for end in BOUNDS)],
}


def add_vibration(
    con: duckdb.DuckDBPyConnection, found: LifeStatistics, settings: Settings, aside: Aside = HERE
) -> None:
    """Register the frames about vibration for the results layer.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds the layers ``clean``, ``lives`` and ``fit``; frames ``vibration_*_frame`` are
        registered here. A fleet that cannot carry figures gets the summary's words alone.
    found : LifeStatistics
    settings : Settings
    aside : Aside
        Makes the frames; its `finish` registers them.
    """
    run_layer(con, "fit/vibration")

    def register(frames: dict[str, pd.DataFrame]) -> None:
        for name, frame in frames.items():
            con.register(f"vibration_{name}_frame", frame)

    aside.run(register, vibration_frames, read_vibration(con, found), derating(con), settings)


def vibration_frames(
    given: VibrationInput | None, table: dict[str, list[tuple[float, float]]], settings: Settings
) -> dict[str, pd.DataFrame]:
    """Make the frames about vibration.

    Parameters
    ----------
    given : VibrationInput or None
        None where nothing was measured.
    table : dict
        Derating by alloy, as `derating` reads it.
    settings : Settings

    Returns
    -------
    dict of DataFrame
        By the published table's name.
    """
    words = lacking(None if given is None else given.data, settings)
    frames = {name: pd.DataFrame(columns=columns) for name, columns in EMPTY.items()}
    model = None
    if given is not None and not words:
        try:
            model = model_of(given, settings)
        except FitError:  # no reason to withhold the rest of the edition
            words = ("The records contradict each other too much for a figure: the regression does "
                     "not settle. Look for readings or ages that are far out.")
    if model is None:
        frames["summary"] = empty_summary(words)
    else:
        constructions = constructions_frame(model, settings)
        frames = {
            "constructions": constructions,
            "lives": curves_frame(model, constructions, settings),
            "cells": cells_frame(model, constructions, settings),
            "places": places_frame(model, settings),
            "choices": choices_frame(model, constructions, table, settings),
            "errors": errors_frame(model, settings),
            "summary": summary_frame(model, settings),
        }
    return {name: frame.astype({column: _kind(column) for column in frame.columns})
            for name, frame in frames.items()}


def _kind(column: str) -> str:
    """Return the type of a column, so that an empty frame has the same as a full one."""
    if column in TEXTS:
        return "string"
    return "Int64" if column in COUNTS else "boolean" if column in FLAGS else "Float64"
