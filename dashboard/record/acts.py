"""What each button of a teardown record does: it saves rows, or goes to another screen."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from dashboard import actions, words
from dashboard.record.view import View, view_of
from dashboard.words.record import BY_KEY, CAN_BE, CONCLUDE, MAKE_SAFE, SAFE, SAID, STEPS

LOG = "teardowns"


@dataclass(frozen=True)
class Sent:
    """One press of a button, with what stood in the boxes of its screen.

    Attributes
    ----------
    view : View
        The record before it.
    at : str
        The screen it was pressed on.
    entry_id : str
        Made in the browser.
    about, value : str
        What the button stands for.
    fields : mapping of str to Any
        Boxes of the screen.
    token : object
    who, day : str
        Who examines, and when.
    """

    view: View
    at: str
    entry_id: str
    about: str
    value: str
    fields: Mapping[str, Any]
    token: object
    who: str
    day: str

    @property
    def writer(self) -> actions.Writer:
        """What makes the rows of this record."""
        return actions.Writer(self.view.hose, self.day, self.who)

    def text(self, name: str) -> str:
        """Return what stands in a box."""
        return str(self.fields.get(name) or "").strip()


@dataclass(frozen=True)
class Went:
    """What came of it: the screen to show, what to say, and the record if it changed."""

    at: str
    said: str = ""
    view: View | None = None
    is_building: bool = False
    who: str = ""
    day: str = ""


def act(do: str, sent: Sent) -> Went:
    """Do what a button says.

    Raises
    ------
    RefusedError
        The write is not allowed.
    BraidlifeError
        What is sent cannot be kept.
    """
    doing = DOING.get(do)
    if sent.view.record.is_closed and do not in ("go", "reopen"):
        return Went(sent.at, "The record is confirmed. Open it again to change it.")
    return doing(sent) if doing else Went(sent.at)


def _saved(sent: Sent, rows: list[dict[str, str]], at: str | None, said: str = "") -> Went:
    """Save rows; None goes to the next open screen. Where something is wrong, stay and say so."""
    taken = actions.save(sent.token, sent.entry_id, LOG, sent.who, rows,
                         {"record": sent.view.hose.short, "screen": sent.at})
    if not taken.is_kept:
        return Went(sent.at, f"Not saved: {taken.words}")
    view = view_of(sent.view.stay)
    return Went(view.after(sent.at) if at is None else at, said, view)


def _begin(sent: Sent) -> Went:
    who, day = actions.name_of(" ".join(sent.text("who").split())), sent.text("examined_on")
    if not who:
        return Went(sent.at, "Give your name first: every entry keeps who made it.")
    wrong = actions.faults(LOG, [replace(sent, who=who, day=day).writer.made_safe("yes")])
    return Went(sent.at, wrong) if wrong else Went(
        sent.view.after(MAKE_SAFE) if sent.view.record.permit is not None else MAKE_SAFE,
        who=who, day=day)


def _safe(sent: Sent) -> Went:
    missing = [text for key, text in SAFE if key not in (sent.fields.get("safe") or [])]
    if missing:
        return Went(sent.at, f"Not confirmed: {missing[0]}. Do not go on before it is.")
    return _saved(sent, [sent.writer.made_safe(sent.text("permit"))], None)


def _answer(sent: Sent) -> Went:
    if sent.about not in sent.view.findings or sent.value not in (*CAN_BE, "back"):
        return Went(sent.at, "There is no such question.")
    if sent.value == "back":
        return _saved(sent, [sent.writer.answer(sent.about, None)], sent.at, "Taken back.")
    said = f"Saved: {sent.view.findings[sent.about]['words']}: {SAID[sent.value]}."
    return _saved(sent, [sent.writer.answer(sent.about, sent.value)], None, said)


def _note(sent: Sent) -> Went:
    step = sent.about if sent.about in BY_KEY else sent.view.step_of(sent.at).key
    text = sent.text("note")
    if text == sent.view.record.notes.get(step, ""):
        return Went(sent.at, "The note is as it was.")
    return _saved(sent, [sent.writer.note(step, text)], sent.at, "The note is saved.")


def _photograph(sent: Sent) -> Went:
    step = sent.about if sent.about in BY_KEY else sent.view.step_of(sent.at).key
    name = actions.save_photograph(sent.token, sent.value)
    if name in sent.view.record.photographs:
        return Went(sent.at, "This photograph is on the record already.")
    return _saved(sent, [sent.writer.photograph(step, name)], sent.at, "The photograph is saved.")


def _no_photograph(sent: Sent) -> Went:
    step = sent.view.record.photographs.get(sent.about)
    if step is None:
        return Went(sent.at, "There is no such photograph.")
    return _saved(sent, [sent.writer.photograph(step, sent.about, is_kept=False)], sent.at,
                  "The photograph is off the record.")


def _go(sent: Sent) -> Went:
    return Went(sent.about)


def _skip(sent: Sent) -> Went:
    """Go to the step after the one that is left out."""
    keys = [step.key for step in STEPS]
    at = keys.index(sent.about) if sent.about in keys else -1
    return Went(keys[min(at + 1, len(keys) - 1)])


def _conclude(sent: Sent) -> Went:
    mechanism = sent.text("mechanism") or "unknown"
    if mechanism not in words.MECHANISM_WORDS or mechanism == "all":
        return Went(sent.at, "There is no such mechanism.")
    if not sent.view.record.answers:
        return Went(sent.at, "Nothing was answered yet: there is nothing to confirm.")
    if not sent.fields.get("sure"):
        return Went(sent.at, "Look it over first, and say so.")
    went = _saved(sent, sent.writer.conclusion(mechanism), CONCLUDE, "The record is confirmed.")
    if went.view is None:
        return went
    actions.make_edition(sent.token)
    return replace(went, is_building=True)


def _reopen(sent: Sent) -> Went:
    rows = sent.writer.reopened(sent.view.record.concluded)
    return _saved(sent, rows, CONCLUDE, "The record is open again.")


DOING: dict[str, Callable[[Sent], Went]] = {
    "begin": _begin, "safe": _safe, "answer": _answer, "note": _note, "photo": _photograph,
    "unphoto": _no_photograph, "go": _go, "skip": _skip, "conclude": _conclude, "reopen": _reopen,
}
