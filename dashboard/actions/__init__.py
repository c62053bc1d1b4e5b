"""The one door through which the pages write: who may, what is taken, when an edition is made.

Without accounts, whoever uses this machine may enter, and nobody else; with them, the role decides.
Every write passes `guard`, which asks for the role.
"""

from __future__ import annotations

import base64
import binascii
import hmac
import secrets
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import flask

from dashboard.accounts import who as asking
from dashboard.accounts.who import name_of as name_of
from dashboard.loopback import is_loopback
from dashboard.queries import record as asked
from etl import audit
from etl.entry import correction, job, photographs, rights
from etl.entry.look import LARGEST, look
from etl.entry.record import Hose, Record, Writer, open_records, read_record
from etl.entry.running import Judge, Running, judge_of
from etl.entry.take import Taken, faults_of, n_rows_entered, take
from etl.errors import BraidlifeError, InputError

__all__ = ["LARGEST", "Hose", "Record", "Running", "Taken", "Writer", "faults_of"]
KEY = "BRAIDLIFE_ACTIONS"
LOGS = ("teardowns", "inspections", "installations", "replacements", "trials")
"""Logs that the pages write to."""
AGAIN = "Reload the page; what was saved before is kept."
NOT_HERE = ("Nothing can be entered here: pages that other machines can reach take no entries as "
            "long as there are no accounts.")
OFF = "Entries are turned off in the settings of this store."
NOT_IN_ROLE = {"recorder": "Your role reads only. A keeper can let you enter as well.",
               "keeper": "Only keepers load files."}
WORKING = job.WORKING
"""States of the job in which a page looks again."""
BUSY = "Another file is being checked. Try again in a minute."


class RefusedError(Exception):
    """A write that is not allowed; the message is for whoever tried."""


NOT_KEPT = (RefusedError, BraidlifeError)
"""What a write may end in; the message is for whoever wrote."""


@dataclass
class Actions:
    """What the writes of one application need.

    Attributes
    ----------
    store : Path
    is_local : bool
        Whether the server listens on this machine alone.
    token : str
        Known only to pages that this process handed out.
    """

    store: Path
    is_local: bool
    token: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    judges: dict[str, Judge] = field(default_factory=dict)
    looking: threading.Lock = field(default_factory=threading.Lock)


def install(app: flask.Flask, store: Path, hosts: Sequence[str] = ()) -> None:
    """Let an app take entries, hand out photographs and check files.

    Parameters
    ----------
    app : Flask
    store : Path
        Folder of the store.
    hosts : sequence of str
        Addresses that the server listens on beside those of this machine itself; any that other
        machines reach turns entries off.
    """
    app.config[KEY] = Actions(store, all(is_loopback(host) for host in hosts))
    app.get("/photographs/<name>")(_photograph)
    app.post("/check-file")(_check_file)


def at_hand() -> Actions:
    """Return what this server writes to and how."""
    found: Actions = flask.current_app.config[KEY]
    return found


def why_not(role: str = "recorder") -> str | None:
    """Return why this request may not do what a role may; None where it may."""
    actions = at_hand()
    host = urlsplit(f"//{flask.request.host}").hostname or ""
    if asking.has_accounts():
        if not asking.may(role):
            return NOT_IN_ROLE[role]
    elif not (actions.is_local and is_loopback(host)
              and is_loopback(flask.request.remote_addr or "")):
        return NOT_HERE
    try:
        return None if rights.takes_entries(actions.store) else OFF
    except InputError as exc:
        return str(exc)


def token(role: str = "recorder") -> str:
    """Return what a page of ours has to send back with every write."""
    return at_hand().token if why_not(role) is None else ""


def guard(given: object, role: str = "recorder") -> None:
    """Let a write pass, or stop it.

    Parameters
    ----------
    given : object
        The token that came with it.
    role : str
        Which it takes, where there are accounts.

    Raises
    ------
    RefusedError
        Entries are off, another site started the request, or the token is not this process's.
    """
    why = why_not(role)
    if why is not None:
        raise RefusedError(why)
    origin = urlsplit(flask.request.headers.get("Origin", ""))
    started = flask.request.headers.get("Sec-Fetch-Site", "same-origin")
    if origin.netloc != flask.request.host or started != "same-origin":
        raise RefusedError("This request was started by another site. Nothing was saved.")
    if not isinstance(given, str) or not hmac.compare_digest(
            given.encode("utf-8", "replace"), at_hand().token.encode("ascii")):
        raise RefusedError(f"This page is from before the server was started anew. {AGAIN}")


def save(given: object, entry_id: str, log: str, who: str, rows: Sequence[Mapping[str, str]],
         about: Mapping[str, Any] | None = None) -> Taken:
    """Keep an entry.

    Parameters
    ----------
    given : object
        The page's token.
    entry_id : str
        Made in the browser; the same one sent again counts once.
    log : str
        One of `LOGS`.
    who : str
        As given; where there are accounts, the account's own name stands in its place.
    rows : sequence of mapping
        Column to text.
    about : mapping or None
        The record and the screen that it belongs to.

    Returns
    -------
    Taken
        With what is wrong, where nothing was kept.

    Raises
    ------
    RefusedError
        The write is not allowed.
    InputError, StoreError
        It has no form that can be kept, or the store cannot be written.
    """
    guard(given)
    if log not in LOGS:
        raise RefusedError("Nothing can be entered in this log.")
    named = [str(row.get("service_point", "")) for row in rows]
    return take(at_hand().store, log, entry_id, name_of(who), rows, asked.places(named),
                about)


def faults(log: str, rows: Sequence[Mapping[str, str]]) -> str:
    """Return what would be wrong with rows, in words; empty where they could be kept."""
    named = [str(row.get("service_point", "")) for row in rows]
    return " ".join(item.words for item in faults_of(log, rows, asked.places(named)))


def save_photograph(given: object, sent: object) -> str:
    """Keep a photograph that a browser sent as text, and return its name.

    Raises
    ------
    RefusedError, InputError, StoreError
        As in `save`; anything but a picture is an InputError.
    """
    guard(given)
    try:
        content = base64.b64decode(str(sent).partition(",")[2], validate=True)
    except (binascii.Error, ValueError) as exc:
        raise InputError(photographs.NO_PHOTOGRAPH) from exc
    return photographs.keep_photograph(at_hand().store, content)


def make_edition(given: object) -> None:
    """Start the job that brings all entries into a new edition."""
    guard(given)
    audit_note("edition asked for")
    job.start(at_hand().store)


def audit_note(what: str) -> None:
    """Keep in the audit log what this request asked for."""
    audit.note(at_hand().store, what, name_of("pages of this machine"))


def progress() -> job.Progress:
    """Return what that job does."""
    return job.progress(at_hand().store)


def n_waiting() -> int:
    """Return how many entered rows no edition has seen yet."""
    seen = asked.rows_published()
    return sum(max(0, n_rows_entered(at_hand().store, log) - seen.get(log, 0)) for log in LOGS)


def record(hose: Hose) -> Record:
    """Return what was entered about a hose."""
    return read_record(at_hand().store, hose)


def begun() -> list[tuple[Hose, Record]]:
    """Return the records that wait to be finished."""
    return open_records(at_hand().store)


def suggest(found: Mapping[str, str]) -> Running:
    """Return what findings suggest, by the weights and the prior of the edition."""
    judges, name = at_hand().judges, asked.edition_name()
    if name not in judges:
        made = judge_of(asked.known())
        judges.clear()
        judges[name] = made
    return judges[name].judge(found)


def typed_row(log: str, source_file: str, cells: Mapping[str, str]) -> dict[str, str]:
    """Return a loaded row in the words and units of the store."""
    named = asked.places([str(cells.get("service_point", ""))])
    return correction.as_typed(at_hand().store, log, source_file, cells, named)


def columns(log: str) -> list[str]:
    """Return the columns of a log that a person may fill in."""
    return correction.columns_of(log)


def choices(log: str, column: str) -> tuple[str, ...]:
    """Return the words that a column may hold; none where any text will do."""
    return correction.choices_of(log, column)


def correcting(log: str, before: Mapping[str, str], after: Mapping[str, str] | None,
               ) -> list[dict[str, str]]:
    """Return the rows that put a loaded row right, or take it back."""
    return correction.corrected(log, before, after)


def _photograph(name: str) -> flask.Response:
    """Hand out a photograph; its address holds the hash of its content."""
    found = photographs.find_photograph(at_hand().store, name)
    if found is None:
        flask.abort(404)
    answer = flask.Response(found.path.read_bytes(), mimetype=found.media_type)
    answer.headers["Content-Disposition"] = f"inline; filename={name}"
    return answer


def _check_file() -> tuple[flask.Response, int]:
    """Check a file that is sent as it is; answers with the report, or with why there is none."""
    flask.request.max_content_length = LARGEST
    actions = at_hand()
    try:
        guard(flask.request.headers.get("X-Braidlife-Token"))
        if not actions.looking.acquire(blocking=False):
            return flask.jsonify(problem=BUSY), 503
        try:
            return flask.jsonify(look(flask.request.args.get("name", ""),
                                      flask.request.get_data(cache=False),
                                      asked.all_places())), 200
        finally:
            actions.looking.release()
    except RefusedError as exc:
        return flask.jsonify(problem=str(exc)), 403
    except BraidlifeError as exc:
        return flask.jsonify(problem=str(exc)), 422
