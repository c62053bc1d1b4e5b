"""What a browser sends to run a callback, held against what the pages have before it runs.

A browser names components, properties and values; anybody can send others. Names must be those of
the callback, and each value of the kind that its property can have; the rest is a matter of the
callback, which looks up what it is given and never trusts it.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from typing import Any

import flask
from werkzeug.exceptions import BadRequest

ADDRESS = "/_dash-update-component"
DEEPEST = 40
"""Levels of a body; tables and forms have six."""
MOST_ITEMS = 2000
"""Components that one pattern stands for, and choices of one component."""
LONGEST_INDEX = 500
LARGEST_NUMBER = 2**63
NOTHING = "this asks for nothing that the pages have"

Kind = Callable[[Any], bool]


def install(app: Any) -> None:
    """Let an app refuse questions that none of its pages can have asked."""

    @app.server.before_request
    def refuse_nonsense() -> None:
        if flask.request.path == ADDRESS and flask.request.method == "POST":
            try:
                body = flask.request.get_json()
                known = is_sound(body) and is_known(body, app.callback_map)
            except (RecursionError, UnicodeError) as exc:
                raise BadRequest(NOTHING) from exc
            if not known:
                raise BadRequest(NOTHING)


def is_sound(body: Any) -> bool:
    """Tell whether every text is text, every number a number, and nothing nested without end."""
    waiting = [(body, 0)]
    while waiting:
        item, depth = waiting.pop()
        if isinstance(item, str):
            item.encode()  # half of a pair of code units is no text
        elif isinstance(item, float) and not math.isfinite(item):
            return False
        elif isinstance(item, int) and not -LARGEST_NUMBER < item < LARGEST_NUMBER:
            return False
        elif isinstance(item, (dict, list)):
            if depth == DEEPEST:
                return False
            inner = [*item, *item.values()] if isinstance(item, dict) else item
            waiting += [(each, depth + 1) for each in inner]
    return True


def read_inside(text: object) -> Any:
    """Return what a value that is JSON inside a text says, with nothing in it that no page sends.

    Raises
    ------
    ValueError
        It is none, or holds what `is_sound` refuses.
    """
    try:
        found = json.loads(str(text))
        if is_sound(found):
            return found
    except RecursionError:
        pass
    raise ValueError(NOTHING)


def is_known(body: Any, callbacks: Mapping[str, Any]) -> bool:
    """Tell whether a body names a callback, and only components and properties of it."""
    output = body.get("output") if isinstance(body, dict) else None
    if not isinstance(output, str) or "callback" not in callbacks.get(output, {}):
        return False
    listed = callbacks[output]
    named: set[str] = set()
    stand_for: dict[str, list[Any]] = {}
    for part in ("inputs", "state"):
        given, wanted = body.get(part, []), listed[part]
        if not isinstance(given, list) or len(given) != len(wanted) or not all(
                _is_input(each, of, named, stand_for)
                for each, of in zip(given, wanted, strict=True)):
            return False
    changed = body.get("changedPropIds", [])
    return (_are_outputs(body.get("outputs"), output) and isinstance(changed, list)
            and all(isinstance(each, str) and each in named for each in changed))


def _is_input(given: Any, wanted: Mapping[str, Any], named: set[str],
              stand_for: dict[str, list[Any]]) -> bool:
    """Tell whether an input is the one that is wanted; note its name for what has changed.

    A pattern stands for the same components wherever it comes in a question.
    """
    pattern = _pattern(wanted["id"])
    is_many = pattern is not None and any(part == ["ALL"] for part in pattern.values())
    many = given if is_many else [given]
    if not isinstance(many, list) or len(many) > MOST_ITEMS:
        return False
    for each in many:
        if not isinstance(each, dict) or each.get("property") != wanted["property"]:
            return False
        if not _is_id(each.get("id"), wanted["id"], pattern):
            return False
        if not _is_value(each, wanted["id"]):
            return False
        named.add(f"{_name(each['id'])}.{wanted['property']}")
    ids = [each["id"] for each in many]
    return stand_for.setdefault(wanted["id"], ids) == ids


def _pattern(name: str) -> dict[str, Any] | None:
    """Return the parts of an id that stands for several components, None for a plain one."""
    return dict(json.loads(name)) if name.startswith("{") else None


def _name(of: Any) -> str:
    """Return an id as browsers write it."""
    return of if isinstance(of, str) else json.dumps(
        of, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def _is_id(given: Any, wanted: str, pattern: dict[str, Any] | None) -> bool:
    """Tell whether an id is the wanted one, or one of those that the pattern stands for."""
    if pattern is None:
        return bool(given == wanted)
    return isinstance(given, dict) and set(given) == set(pattern) and all(
        _is_index(given[name]) if isinstance(part, list) else given[name] == part
        for name, part in pattern.items())


def _is_index(part: Any) -> bool:
    return isinstance(part, (int, float)) or (isinstance(part, str) and len(part) <= LONGEST_INDEX)


def _are_outputs(given: Any, output: str) -> bool:
    """Tell whether outputs are those of a callback; patterns may stand for any number."""
    parts = output.strip(".").split("...") if output.startswith("..") else [output]
    several = given if output.startswith("..") else [given]
    if not isinstance(several, list) or len(several) != len(parts):
        return False
    return all(_is_output(each, part) for each, part in zip(several, parts, strict=True))


def _is_output(given: Any, part: str) -> bool:
    wanted, _, prop = part.rpartition(".")
    pattern = _pattern(wanted)
    many = given if isinstance(given, list) and pattern is not None else [given]
    return len(many) <= MOST_ITEMS and all(
        isinstance(each, dict) and _is_id(each.get("id"), wanted, pattern)
        and isinstance(each.get("property"), str)
        and each["property"].partition("@")[0] == prop.partition("@")[0] for each in many)


def _is_value(given: Mapping[str, Any], wanted: str) -> bool:
    """Tell whether a value is of the kind that its property, or its component, can have."""
    value, prop = given.get("value"), given["property"]
    if prop == "id":
        return bool(value == given["id"])
    name = f"{wanted}.{prop}"
    kind = OF_COMPONENT.get(name) or OF_PROPERTY.get(prop)
    if value is None:
        return name not in NEVER_EMPTY
    return kind is None or kind(value)


def _is_text(value: Any) -> bool:
    return isinstance(value, str)


def _is_path(value: Any) -> bool:
    return isinstance(value, str) and value.startswith("/")


def _is_count(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _is_mapping(value: Any) -> bool:
    return isinstance(value, dict)


def _is_choice(value: Any) -> bool:
    several = value if isinstance(value, list) else [value]
    return len(several) <= MOST_ITEMS and all(
        isinstance(each, (str, int, float)) for each in several)


OF_PROPERTY: dict[str, Kind] = {
    "searchValue": _is_text, "pathname": _is_path, "search": _is_text,
    "n_clicks": _is_count, "n_intervals": _is_count, "getRowsRequest": _is_mapping,
    "value": _is_choice,
}
OF_COMPONENT: dict[str, Kind] = {
    "entry-token.data": _is_text, "shell-width.data": _is_text,
    "life-cell-with.value": _is_text, "lives-mechanism.value": _is_text,
    "enter-which.value": _is_text, "places-filters.data": _is_mapping,
    "check-answer.data": _is_mapping, "start-sent.data": _is_mapping,
    "enter-sent.data": _is_mapping, "record-sent.data": _is_mapping,
    "record-known.data": _is_mapping,
}
"""Kinds of what single components hold, where their property can hold anything."""
NEVER_EMPTY = ("_pages_location.pathname",)
"""What a browser always has."""
