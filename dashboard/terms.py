"""A word's meaning where it stands: the first use on a page of each word of the glossary.

The meanings are those of the guide. Marked are captions, context lines and headings; a word in a
link, a button or a figure is left alone.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Callable, Mapping
from typing import Any

import dash
from dash import html
from dash.development.base_component import Component

from dashboard.queries import guide
from dashboard.queries.edition import EditionError

ALSO = {
    "interval (90 % range)": ("90 % range",), "shape": ("Weibull shape",),
    "vibration velocity": ("velocity",), "like places": ("like place", "like places"),
}  # fmt: skip
"""Terms that stand on the pages under other words than in the glossary."""
SILENT = ("failed, found failed", "service point", "stay", "edition")
"""Terms that would be marked in half of all sentences, or that explain themselves where used."""
CLASSES = ("caption", "context")
HEADINGS = ("H2", "Th")
UNMARKED = ("A", "Link", "Button", "Summary", "Code", "Option", "Label")
OWN_PAGE = "/guide"


def install() -> None:
    """Let every page mark its words; pages that were marked before are left as they are."""
    for page in dash.page_registry.values():
        layout = page.get("layout")
        if callable(layout) and not hasattr(layout, "__wrapped__") and page["path"] != OWN_PAGE:
            page["layout"] = _marking(layout)


def _marking(layout: Callable[..., Any]) -> Callable[..., Any]:
    @functools.wraps(layout)
    def marked(*args: Any, **query: Any) -> Any:
        shown = layout(*args, **query)
        try:
            meanings = {row["term"]: row["meaning"] for row in guide.glossary()}
        except EditionError:
            return shown
        return mark(shown, meanings)

    return marked


def mark(page: Any, meanings: Mapping[str, str]) -> Any:
    """Return a page in which the first use of each word says what the word means.

    Parameters
    ----------
    page : component
        Changed in place.
    meanings : mapping of str to str
        Term of the glossary to its meaning.
    """
    open_forms = {form: term for term in meanings for form in forms(term)}
    _walk(page, open_forms, meanings, False)
    return page


def forms(term: str) -> tuple[str, ...]:
    """Return the words under which a term stands on the pages.

    Examples
    --------
    >>> forms("pooled, stand-alone"), forms("interval (90 % range)"), forms("service point")
    (('pooled', 'stand-alone'), ('90 % range',), ())
    >>> forms("mechanism")
    ('mechanism', 'mechanisms')
    """
    if term in SILENT:
        return ()
    if term in ALSO:
        return ALSO[term]
    parts = tuple(part.strip() for part in term.split(","))
    return parts if len(parts) > 1 or term == "B10" else (term, f"{term}s")


def _walk(node: Any, left: dict[str, str], meanings: Mapping[str, str], is_marked: bool) -> None:
    """Mark the texts below a component, in the order in which they are read."""
    if not isinstance(node, Component) or type(node).__name__ in UNMARKED:
        return
    named = getattr(node, "className", None) or ""
    is_marked = (is_marked or type(node).__name__ in HEADINGS
                 or any(name in CLASSES for name in str(named).split()))
    children = getattr(node, "children", None)
    if children is None:
        return
    out: list[Any] = []
    for child in children if isinstance(children, (list, tuple)) else [children]:
        if isinstance(child, str):
            out += _pieces(child, left, meanings) if is_marked else [child]
        else:
            _walk(child, left, meanings, is_marked)
            out.append(child)
    node.children = out[0] if len(out) == 1 and not isinstance(children, (list, tuple)) else out


def _pieces(text: str, left: dict[str, str], meanings: Mapping[str, str]) -> list[Any]:
    """Return a text with the words that were not marked yet as components."""
    if not left:
        return [text]
    longest, any_of = _any_of(tuple(left))
    found = any_of.search(text)
    if found is None:
        return [text]
    form = next(item for item in longest if item.lower() == found[1].lower())
    term = left[form]
    for other in [item for item, of in left.items() if of == term]:
        del left[other]
    before, after = text[:found.start()], text[found.end():]
    return [*([before] if before else []), word(found[1], term, meanings[term]),
            *(_pieces(after, left, meanings) if after else [])]


@functools.lru_cache(maxsize=500)
def _any_of(forms: tuple[str, ...]) -> tuple[list[str], re.Pattern[str]]:
    """Return words, the longest first, and what finds the first of them in a text."""
    longest = sorted(forms, key=len, reverse=True)
    any_of = "|".join(map(re.escape, longest))
    return longest, re.compile(rf"(?<![\w-])({any_of})(?![\w-])", re.IGNORECASE)


def word(shown: str, term: str, meaning: str) -> html.Span:
    """Return a word that says its meaning when it is pointed at, pressed or reached by keyboard."""
    name = "term-" + re.sub(r"\W+", "-", term.lower()).strip("-")
    return html.Span(
        [
            html.Button(shown, type="button", className="term", **{"aria-describedby": name}),
            html.Span(meaning, id=name, className="term-said", role="tooltip"),
        ],
        className="term-place",
    )
