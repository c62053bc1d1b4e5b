"""What a press on the record of a teardown leads to: it is done, and the next screen shown."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

import dash

from dashboard import actions
from dashboard.parts import entries as parts_entries
from dashboard.record import screens as parts_record
from dashboard.record import side as parts_record_side
from dashboard.record.acts import Sent, act
from dashboard.record.view import stay_named, view_of


def pressed(sent: Any, known: dict[str, Any], token: Any, fields: Mapping[str, Any]) -> Any:
    """Return the screen, what stands beside it, what the page knows, and what is to be said.

    Parameters
    ----------
    sent : Any
        What the browser says was pressed.
    known : dict
        Hose, screen, examiner and day of the page.
    token : Any
    fields : mapping
        Boxes of the screen.
    """
    stay = stay_named(known.get("hose"), known.get("place"), known.get("removed"))
    if stay is None or not isinstance(sent, dict):
        return dash.no_update, dash.no_update, dash.no_update, "This hose is not on record now."
    view = view_of(stay)
    about, value = (str(sent.get(name) or "") for name in ("about", "value"))
    who, day = str(known.get("who") or ""), str(known.get("day") or "")
    who = actions.name_of(who) if who else ""  # the browser says who; an account knows better
    given = Sent(view, view.allowed(str(known.get("at")), bool(who)), str(sent.get("id")), about,
                 value, fields, token, who, day)
    try:
        went = act(str(sent.get("do")), given)
    except actions.NOT_KEPT as exc:
        return dash.no_update, dash.no_update, dash.no_update, str(exc)
    if went.said and went.view is None:
        return dash.no_update, dash.no_update, dash.no_update, went.said
    view = went.view or view
    if went.is_building:
        parts_entries.watch()
    who = went.who or given.who
    at = view.allowed(went.at, bool(who))
    known |= {"at": at, "who": who, "day": went.day or given.day}
    return (parts_record.screen(view, at, dt.date.today().isoformat()),
            parts_record_side.side(view, actions.suggest(view.found)), known, went.said)
