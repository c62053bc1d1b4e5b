"""The screens of a teardown record: one thing asked at a time, large enough for a gloved hand."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html

from dashboard import parts, units, words
from dashboard.parts import entries as parts_entries
from dashboard.parts.teardown import told as parts_teardown
from dashboard.record.view import LOOK, View
from dashboard.words.record import (
    BEGIN,
    CAN_BE,
    CONCLUDE,
    MAKE_SAFE,
    PHOTOGRAPH,
    SAFE,
    SAID,
    STEPS,
    Step,
)


def send(label: str, do: str, about: str = "", value: str = "", kind: str = "",
         confirm: str = "") -> html.Button:
    """Return a button that sends one thing to the record, once however often it is pressed.

    With `confirm`, words that then stand on it, the first press only asks and the second sends.
    """
    asked = {"data-confirm": confirm} if confirm else {}
    return html.Button(label, type="button", className=f"tall {kind}".strip(), **{
        "data-send": do, "data-about": about, "data-value": value}, **asked)


def field(name: str) -> dict[str, str]:
    """Return the id of a box whose content goes with whatever is sent."""
    return {"type": "record-field", "index": name}


def screen(view: View, at: str, today: str) -> html.Div:
    """Return one screen of the record.

    Parameters
    ----------
    view : View
    at : str
        A screen of `view.screens`.
    today : str
        ISO day to start with.
    """
    step = view.step_of(at)
    if at.startswith(LOOK):
        body = _question(view, at.removeprefix(LOOK))
    elif at == BEGIN:
        body = _begin(view, today)
    elif at == MAKE_SAFE:
        body = _make_safe(view)
    elif at == CONCLUDE:
        body = _conclude(view)
    else:
        body = [send("Go on", "go", view.after(at), kind="main")]
        if step.has_findings:
            body.append(send("Leave this step out", "skip", step.key))
    head = [] if at.startswith(LOOK) else _head(view, step)
    if at not in (BEGIN, MAKE_SAFE) and not view.record.is_closed:
        body.insert(0 if at == PHOTOGRAPH else len(body), _notes(view, step))
    return html.Div([
        html.P(_where(view, step, at), className="caption"), *head, *body, _ways(view, at),
    ], className="screen", **{"data-turn": f"{view.record.n_entries} {at}"})  # fmt: skip


def _where(view: View, step: Step, at: str) -> str:
    """Return which step of how many this is, and how far it is answered."""
    said = f"Step {STEPS.index(step) + 1} of {len(STEPS)}"  # its title is the heading below
    names = view.of_step(step)
    if not names:
        return said
    done = sum(name in view.record.answers for name in names)
    if at.startswith(LOOK):
        number = names.index(at.removeprefix(LOOK)) + 1
        return f"{said}: {step.title}, question {number} of {len(names)}, {done} answered"
    return f"{said}: {words.count(len(names), 'question')}, {done} answered"


def _head(view: View, step: Step) -> list[Any]:
    said = parts_teardown.CAUTION_TEARDOWN if step.key == BEGIN else step.caution
    caution = [parts.caution(*said)] if said else []
    duty = [_duty(view)] if step.key in (BEGIN, MAKE_SAFE) else []
    return [html.H2(step.title, tabIndex=-1), *caution, *duty,
            *(html.P(line, className="do") for line in step.do)]


def _duty(view: View) -> html.P:
    """Return what the register says went through the hose: a hand is about to touch it."""
    stay = view.stay
    known = [stay["medium"] or "medium not recorded"]
    known += [units.text(stay[name], unit) for name, unit in (
        ("temperature_c", "degC"), ("pressure_bar", "bar")) if stay[name] is not None]
    return html.P([html.B("On record for this place: "), ", ".join(known),
                   ". The register can be wrong: ask who ran it. ",
                   *parts.hazards(stay["hazards"])], className="do")


def _begin(view: View, today: str) -> list[Any]:
    return [
        dmc.TextInput(id=field("who"), label="Your name", inputProps={"maxLength": 80},
                      **parts_entries.name(view.record.examiner)),
        dmc.TextInput(id=field("examined_on"), label="Day of the examination",
                      value=view.record.examined_on or today, inputProps={"maxLength": 10}),
        html.P(parts_entries.name_kept(), className="caption"),
        send("Begin", "begin", kind="main"),
    ]  # fmt: skip


def _make_safe(view: View) -> list[Any]:
    if view.record.permit is not None:
        is_named = view.record.permit not in ("", "yes")  # as it is kept where none was given
        permit = ["permit ", html.B(view.record.permit)] if is_named else ["no permit number given"]
        return [html.P(["Confirmed before, ", *permit, "."]),
                send("Go on", "go", view.after(MAKE_SAFE), kind="main")]
    boxes = [dmc.Checkbox(label=text, value=key, size="lg") for key, text in SAFE]
    return [
        dmc.CheckboxGroup(boxes, id=field("safe"), value=[], className="safe",
                          label="Confirm each, or stop here"),
        dmc.TextInput(id=field("permit"), label="Number of the permit, if there is one",
                      inputProps={"maxLength": 80}),
        send("All confirmed", "safe", kind="main"),
    ]  # fmt: skip


def _question(view: View, name: str) -> list[Any]:
    """Return the question for one finding, with what was answered before."""
    asked = units.sentence(view.findings[name]["words"])
    now = view.record.answers.get(name)
    before = view.published.get(name) if name not in view.record.touched else None
    said: list[Any] = []
    if now is not None:
        said = [html.P([f"Answered: {SAID[now]}. ", send("Take it back", "answer", name, "back",
                                                         "quiet")], className="answered")]
    elif before is not None:
        said = [html.P(f"On record from an earlier examination: {SAID[before]}. An answer here "
                       "takes its place.", className="answered")]
    return [
        html.H2(f"{asked[:1].upper()}{asked[1:]}?", tabIndex=-1, className="question"), *said,
        html.Div([send(label, "answer", name, state, "chosen" if state == now else "")
                  for state, label in CAN_BE.items()], className="answers"),
        send("Leave the rest of this step", "skip", view.findings[name]["looked_at"], kind="quiet"),
    ]  # fmt: skip


def _notes(view: View, step: Step) -> html.Details:
    """Return the note and the photographs of a step, folded away."""
    shown = [name for name, of in view.record.photographs.items() if of == step.key]
    note = view.record.notes.get(step.key, "")
    told = [text for text in ("a note" if note else "",
                              words.count(len(shown), "photograph") if shown else "") if text]
    return html.Details([
        html.Summary(f"Photographs and note of this step: {' and '.join(told) or 'none yet'}"),
        dcc.Upload(html.Span("Add a photograph", className="tall as-button"),
                   id={"type": "record-upload", "index": step.key}, accept="image/*"),
        html.Div([html.Figure([
            html.A(html.Img(src=f"/photographs/{name}", alt=f"Photograph {number}: {step.title}"),
                   href=f"/photographs/{name}", target="_blank"),
            send("Take it off the record", "unphoto", name, kind="quiet"),
        ]) for number, name in enumerate(shown, start=1)], className="photographs"),
        dmc.Textarea(id=field("note"), value=note, label="Note", autosize=True, minRows=2,
                     inputProps={"maxLength": 2000}),
        send("Save the note", "note", step.key),
    ], className="fold", open=step.key == PHOTOGRAPH)  # fmt: skip


def _ways(view: View, at: str) -> html.Nav | None:
    """Return the ways to other screens."""
    if view.record.is_closed or at == BEGIN:
        return None
    before = view.before(at)
    steps = [html.Li([send(step.title, "go", step.key, kind="quiet"),
                      html.Span(_answered(view, step), className="below")])
             for step in STEPS[1:]]
    return html.Nav([
        html.Div([send("Back", "go", before) if before else None,
                  send("Next", "go", view.after(at)) if at.startswith(LOOK) else None],
                 className="back-next"),
        html.Details([html.Summary("All steps"), html.Ul(steps, className="list")],
                     className="fold"),
    ], **{"aria-label": "Screens of the record"})  # fmt: skip


def _answered(view: View, step: Step) -> str:
    names = view.of_step(step)
    done = sum(name in view.record.answers for name in names)
    return f" {done} of {len(names)} answered" if names else ""


def _conclude(view: View) -> list[Any]:
    """Return what was found, and what is left to say."""
    by_state: dict[str, list[str]] = {state: [] for state in SAID}
    for name, state in view.record.answers.items():
        found = view.findings.get(name)
        by_state[state].append(units.sentence(found["words"]) if found else name)
    n_open = len(view.findings) - len(view.record.answers)
    summary: list[Any] = [
        html.Div([html.B(label), html.Ul([html.Li(text) for text in by_state[state] or ["nothing"]],
                                         className="list")], className="told")
        for state, label in (("present", "There"), ("absent", "Looked for and not there"))]
    summary.append(html.P(f"{words.count(len(by_state['not checked']) + n_open, 'finding')} not "
                          "checked.", className="caption"))
    if view.record.is_closed:
        said = words.mechanism(view.record.concluded) if view.record.concluded else "no mechanism"
        return [*summary, html.P(["Confirmed by ", html.B(view.record.examiner), ", who concluded ",
                                  html.B(said), "."]),
                send("Open it again and correct it", "reopen")]
    choices = [{"value": "unknown", "label": "I conclude no mechanism"}]
    choices += [{"value": name, "label": label} for name, label in words.MECHANISM_WORDS.items()
                if name not in ("all", "unknown")]
    return [
        *summary,
        dmc.Select(id=field("mechanism"), label="What you conclude", data=choices, value="unknown",
                   allowDeselect=False, searchable=False, comboboxProps={"shadow": "none"}),
        dmc.CheckboxGroup([dmc.Checkbox(label="I have looked it over: it says what I saw",
                                        value="sure", size="lg")],
                          id=field("sure"), value=[], className="safe"),
        send("Confirm the record", "conclude", kind="main"),
    ]  # fmt: skip
