"""The tables of an edition as one readable list of steps."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import duckdb

from etl import __version__
from etl.build.aside import working_aside
from etl.build.clock_fits import add_clock_fits
from etl.build.comparisons import add_comparisons
from etl.build.curve_points import add_curves
from etl.build.decisions import add_decisions
from etl.build.lives import read_lives
from etl.build.recurrence_table import add_recurrence
from etl.build.reference_tables import add_reference_tables
from etl.build.screens_table import add_screens
from etl.build.statistics import life_statistics
from etl.build.teardown_table import add_teardown_evidence
from etl.build.track.record import add_track_record, recorded_now
from etl.build.trial.watch import add_trial_watch
from etl.build.vibration.table import add_vibration
from etl.load import archive, warehouse
from etl.load.lost import note_archived
from etl.load.publish import next_number
from etl.settings import Settings


def publish_results(
    con: duckdb.DuckDBPyConnection, store: Path, day: dt.date, settings: Settings,
    say: Callable[[str], None] = lambda _: None,
) -> None:
    """Estimate, decide and make the tables to be published.

    Parameters
    ----------
    con : DuckDBPyConnection
        Holds the layers ``raw``, ``clean`` and ``lives``.
    store : Path
    day : date
        Data date.
    settings : Settings
    say : callable

    Raises
    ------
    CheckError
        A rule about the tables does not hold.
    """
    values = {
        "as_of": day, "edition": next_number(store), "software_version": __version__,
        "currency": archive.reporting_currency(store), "confidence": settings.confidence,
        "early_failure_days": settings.early_failure_days,
    }
    add_track_record(con, store, day, settings)
    share = recorded_now(con, store, day, settings)
    add_teardown_evidence(con)
    warehouse.run_layer(con, "fit", **values)
    say("estimating lives")
    lives = read_lives(con)
    with working_aside(is_large=lives.count.sum() >= settings.lives_for_second_process) as aside:
        found = life_statistics(con, lives, day, settings, aside, share)
        add_vibration(con, found, settings, aside)
        add_curves(con, found, settings.confidence, aside)
        add_clock_fits(con, found, settings.confidence, aside)
        add_comparisons(con, found, settings.confidence)
        add_recurrence(con, settings.confidence, aside)
        add_screens(con)
        say("forecasting, ranking and advising")
        add_decisions(con, found, settings, aside)
        add_trial_watch(con, found, settings)
        add_reference_tables(con)
        aside.finish()
    say("making the published tables")
    warehouse.run_layer(con, "results", **values)
    note_archived(con, archive.registered(store))
    warehouse.run_checks(con, **values)
