"""Components of which a page has hundreds: cells, rows, dots, made without the library's ceremony.

The library sets a component up name by name, which takes twenty times as long as the component
itself. Made here it is the same component, of the same kind and with the same properties; it is
copied from an empty one, and a property that the kind does not have is refused as there.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from dash import html
from dash.development.base_component import Component


def light(kind: type[Component]) -> Callable[..., Any]:
    """Return a function that makes components of a kind.

    Parameters
    ----------
    kind : type
        Of components that have children and need no property.

    Examples
    --------
    >>> light(html.Td)("3.5", className="number").to_plotly_json() == html.Td(
    ...     "3.5", className="number").to_plotly_json()
    True
    """
    empty = dict(kind().__dict__)
    named, begins = frozenset(empty["_prop_names"]), tuple(empty["_valid_wildcard_attributes"])
    name = kind.__name__

    def make(children: Any = None, **more: Any) -> Any:
        for prop in more:
            if prop not in named and not prop.startswith(begins):
                raise TypeError(f"{name} has no property {prop}")
        made = object.__new__(kind)
        made.__dict__ = {**empty, "children": children, **more}
        return made

    return make


cell, row, span, div = light(html.Td), light(html.Tr), light(html.Span), light(html.Div)
