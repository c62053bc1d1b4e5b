"""Components of the pages as plain HTML, for a file that no program stands behind."""

from __future__ import annotations

import html as escaping
import re
from typing import Any

from dash import dcc
from dash.development.base_component import Component

LEFT_OUT = {"how", "downloads", "filters"}
"""Classes of what needs the pages to work: marks that open, links that hand out tables."""
RENAMED = {"className": "class", "colSpan": "colspan", "rowSpan": "rowspan", "htmlFor": "for"}
KEPT = {"title", "role", "scope", "open", "lang"}
VOID = {"br", "hr", "wbr", "img"}
CAMEL = re.compile(r"(?<!^)([A-Z])")


def to_html(node: Any) -> str:
    """Return components as HTML text; every text of a log is escaped.

    Parameters
    ----------
    node : component, text, number, list of these, or None
        Links become their words, inputs and stores nothing, folded parts open.

    Returns
    -------
    str

    Examples
    --------
    >>> from dash import html
    >>> to_html(html.P(["a < b ", html.B("now")], className="lead"))
    '<p class="lead">a &lt; b <b>now</b></p>'
    """
    if node is None or isinstance(node, bool):
        return ""
    if isinstance(node, (list, tuple)):
        return "".join(to_html(item) for item in node)
    if not isinstance(node, Component):
        return escaping.escape(str(node))
    children = getattr(node, "children", None)
    if isinstance(node, dcc.Link):
        kind = ' class="place"' if "place" in _classes(node) else ""
        return f"<b{kind}>{to_html(children)}</b>"
    if node._namespace != "dash_html_components" or _classes(node) & LEFT_OUT:
        return ""
    name = node._type.lower()
    if name == "a":
        return to_html(children)
    given = "".join(f' {key}="{escaping.escape(value)}"' for key, value in _attributes(node, name))
    return f"<{name}{given}>" + ("" if name in VOID else f"{to_html(children)}</{name}>")


def to_text(node: Any) -> str:
    """Return the words of components, without any mark."""
    if node is None:
        return ""
    if isinstance(node, (list, tuple)):
        return "".join(to_text(item) for item in node)
    return to_text(getattr(node, "children", None)) if isinstance(node, Component) else str(node)


def _classes(node: Component) -> set[str]:
    return set((getattr(node, "className", None) or "").split())


def _attributes(node: Component, name: str) -> list[tuple[str, str]]:
    """Return the attributes as HTML names them, in the order given."""
    out = []
    for key, value in node.to_plotly_json()["props"].items():
        if key in ("children", "id") or value is None:
            continue
        if key == "style":
            out.append(("style", _style(value)))
        elif key in RENAMED or key in KEPT or key.startswith(("data-", "aria-")):
            out.append((RENAMED.get(key, key), str(value)))
    if name == "details" and not any(key == "open" for key, _ in out):
        out.append(("open", "open"))
    return out


def _style(given: dict[str, Any]) -> str:
    names = {key: CAMEL.sub(r"-\1", key).lower() for key in given}
    return ";".join(f"{names[key]}:{value}" for key, value in given.items())
