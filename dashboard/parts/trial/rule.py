"""The rule of a trial, fixed before its start and always in sight."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard.parts.trial.candidates import sentences

HEADS = ("Safety:", "Claim:", "Choice:")


def rule_block(rule: str | None, *, is_planned: bool, is_fixed: bool = True) -> html.Section:
    """Return the rule, one line an entry.

    Parameters
    ----------
    rule : str or None
    is_planned : bool
        The trial has not begun: the rule is a proposal that becomes fixed with its start.
    is_fixed : bool
        It was registered.
    """
    lead = "The rule, fixed before the start" if is_fixed else "The rule"
    if is_planned:
        lead = "The rule, to be fixed before the start"
    lines: list[Any] = []
    for said in sentences(rule) or ["No rule is known."]:
        head = next((name for name in HEADS if said.startswith(name)), None)
        if head is not None:
            lines.append(html.Li([html.Strong(head), said[len(head):]]))
        elif lines:
            lines[-1].children = [*_children(lines[-1]), " ", said]
        else:
            lines.append(html.Li(said))
    return html.Section([html.H2(lead), html.Ul(lines, className="rule")],
                        className="block rule-block")  # fmt: skip


def _children(item: html.Li) -> list[Any]:
    found = item.children
    return list(found) if isinstance(found, list) else [found]
