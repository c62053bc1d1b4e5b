"""The questions everybody asks first, asked of a new edition before anybody waits for them."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Sequence
from typing import Any

import flask

from dashboard.queries import edition, lives, month, places, search

log = logging.getLogger("braidlife.pages")
PAGE_ROWS = 25
FIRST: Sequence[Callable[[], Any]] = (
    edition.info, places.summary, places.choices, places.cost_curve, places.places_for_half,
    lambda: places.PLACES.count({}), lambda: places.PLACES.page({}, [], 0, PAGE_ROWS),
    month.out_this_month, month.year_before, month.dearest_line, month.ten_places, month.soonest,
    month.cost_past, month.cost_ahead, lives.mechanisms, lives.clocks, lambda: lives.matrix("all"),
    lambda: search.found("a"),
)
"""Totals, choices and first pages of This month, Places and Lives, and what search reads."""


def begin(app: flask.Flask) -> threading.Thread:
    """Ask the first questions of the current edition in a thread of its own, which is returned.

    Notes
    -----
    Answers are kept by the edition, so the first reader finds them. A fault is left to the page
    that meets it, which says what to do.
    """
    thread = threading.Thread(target=_ask_all, args=(app,), daemon=True, name="first questions")
    thread.start()
    return thread


def install(app: flask.Flask) -> None:
    """Ask them of every edition that is opened from now on, and of the one there is."""
    app.config[edition.CONFIG_KEY].when_opened = lambda: begin(app)
    begin(app)


def _ask_all(app: flask.Flask) -> None:
    for question in FIRST:
        with app.app_context():
            try:
                question()
            except Exception as exc:
                if edition.explain(exc) is None:
                    raise
                log.debug("a first question found no answer: %s", type(exc).__name__)
