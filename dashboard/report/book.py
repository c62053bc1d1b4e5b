"""The month as one workbook for the planner: facts, places, work, orders, doubts."""

from __future__ import annotations

from typing import Any

from dashboard.queries import edition
from dashboard.report.page import month_sentence
from etl.sheets import Sheet, book

QUESTIONS = {
    "ten places": """
        select r.rank, r.service_point, p.site, p.line, p.application_class, p.hazards,
            r.expected_cost, r.expected_cost_lower, r.expected_cost_upper, r.expected_failures,
            r.probability_worst_ten, r.excess_cost, r.is_tied_with_first,
            r.reason, r.next_step, r.next_step_reason, r.is_failure_prone, p.n_failures,
            p.n_suspensions
        from ranking as r join service_points as p using (service_point)
        order by r.rank, r.service_point limit 10""",
    "due": """
        select due_on, site, line, service_point, hazards, part_number, reason, method, is_overdue,
            shutdown_first_on, shutdown_last_on, age_days, replacement_age_days, labour_h,
            cost_per_planned_change, n_failures, n_suspensions
        from due order by site nulls last, line nulls last, due_on, service_point""",
    "prevented": """
        select * from plan_effect
        where scope in ('fleet', 'site', 'line') and n_months in (3, 6, 12)
        order by scope, scope_name, n_months""",
    "orders": "select * from order_list order by order_cost desc nulls last, part_number",
    "budget": "select * from spares_budget order by n_months",
    "doubts": "select doubt, n_rows, effect from doubts order by n_rows desc nulls last, doubt",
    "methods": "select title, words from method_notes order by key",
}
"""Sheets after the first, in order."""


def month_book() -> bytes:
    """Return the workbook of the month.

    Raises
    ------
    EditionError
        There is no edition to read.
    OSError
        There is no room for the temporary files.
    """
    sheets = [Sheet("this month", ["what", "value"], [_facts()])]
    for title, question in QUESTIONS.items():
        names, batches = edition.stream(question)
        sheets.append(Sheet(title, names, batches))
    with book(sheets) as made:
        return made.read()


def _facts() -> list[tuple[Any, ...]]:
    """Return the month in words, and the edition's own figures."""
    info = edition.info()
    said = month_sentence() if info["n_service_points"] else "No place is on record yet."
    return [("this month", said), *((name.replace("_", " "), info[name]) for name in info)]
