"""The door through which a trial is decided: its rows in the log, with the decision in them."""

from __future__ import annotations

from dashboard import actions
from dashboard.queries import record as asked
from dashboard.queries import trials
from etl.entry.decision import LOG, decided_rows


def decide(given: object, entry_id: str, who: str, trial: str, decision: str, ended_on: str,
           reason: str) -> actions.Taken:
    """Keep what was decided about a trial.

    Parameters
    ----------
    given, entry_id, who
        As of `dashboard.actions.save`.
    trial : str
    decision, ended_on, reason : str
        As entered.

    Returns
    -------
    Taken

    Raises
    ------
    RefusedError
        The write is not allowed.
    InputError, StoreError
        Nothing would change, no reason is given, or it cannot be kept.
    """
    actions.guard(given)
    store = actions.at_hand().store
    n_seen = asked.rows_published().get(LOG, 0)
    rows = decided_rows(store, entry_id, trials.as_published(trial), n_seen,
                        decision, ended_on, reason)
    return actions.save(given, entry_id, LOG, who, rows)
