"""Pages as they are sent: components laid out in one pass, before the library's slow walk.

The library asks each component for every property that its kind could have and looks each up by
its prefixes, one by one while it writes; a page of a thousand components spent a quarter of its
time there.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

import dash
from dash.development.base_component import Component

from dashboard.figures.drawn import Figure

IS_LAID_OUT = "is_laid_out"
KNOWN: dict[type, tuple[frozenset[str], tuple[str, ...]]] = {}
"""Kinds of components that were met: a kind has the same properties always."""


def install() -> None:
    """Let every page be laid out; those that were before are left as they are."""
    for page in dash.page_registry.values():
        layout = page.get("layout")
        if callable(layout) and not hasattr(layout, IS_LAID_OUT):
            page["layout"] = _laying_out(layout)


def _laying_out(layout: Callable[..., Any]) -> Callable[..., Any]:
    @functools.wraps(layout)
    def laid_out(*args: Any, **query: Any) -> Any:
        return plain(layout(*args, **query))

    setattr(laid_out, IS_LAID_OUT, True)
    return laid_out


def plain(node: Any) -> Any:
    """Return a component with all below it as the browser takes it.

    Examples
    --------
    >>> from dash import html
    >>> plain(html.B(["a", html.I("b", title="c")]))["props"]["children"][1]
    {'props': {'children': 'b', 'title': 'c'}, 'type': 'I', 'namespace': 'dash_html_components'}
    """
    kind = type(node)
    if kind is str or kind is float or kind is int or node is None:
        return node
    if kind in KNOWN or isinstance(node, Component):
        named, begins = KNOWN.get(kind) or _know(node)
        return {
            "props": {name: plain(value) for name, value in node.__dict__.items()
                      if name in named or name.startswith(begins)},
            "type": node._type, "namespace": node._namespace,
        }
    if isinstance(node, (list, tuple)):
        return [plain(each) for each in node]
    if isinstance(node, dict):
        return {name: plain(value) for name, value in node.items()}
    return node.to_plotly_json() if isinstance(node, Figure) else node


def _know(node: Component) -> tuple[frozenset[str], tuple[str, ...]]:
    """Note and return the properties of a kind of component, and how its other ones begin."""
    known = frozenset(node._prop_names), tuple(node._valid_wildcard_attributes)
    return KNOWN.setdefault(type(node), known)
