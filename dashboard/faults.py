"""What is shown when a question fails: a page that says so, a line in the log, no traceback."""

from __future__ import annotations

import logging
from typing import Any

import dash

from dashboard.parts import problem_page, unfilled
from dashboard.queries import edition
from dashboard.queries.edition import EditionError, explain
from dashboard.queries.opened import NoEditionError
from dashboard.words.unfilled import FILLED_BY

log = logging.getLogger("braidlife.pages")
CONTENT = "_pages_content"


def answer_fault(fault: Exception) -> Any:
    """Return what a failed callback shows: in the page's place a page, else a notice on top."""
    where = [str(output.get("id")) for output in _outputs()]
    log.error("page callback failed: %s (for %s)", type(fault).__name__, ", ".join(where))
    log.debug("details", exc_info=fault)
    title, text = in_words(fault)
    if CONTENT in where:
        name = _page_name()
        if isinstance(fault, NoEditionError) and name in FILLED_BY:
            return unfilled.page(title, "This store holds no edition yet: load files.", name), {
                "title": title}
        loads = title == edition.LACKING or isinstance(fault, NoEditionError)
        back = ("/start", "Load files") if loads else ("/", "This month")
        return problem_page(title, text, back), {"title": title}
    dash.set_props("shell-notice", {"children": f"{title} {text}".replace("`", "")})
    return dash.no_update if len(where) == 1 else [dash.no_update] * len(where)


def in_words(fault: BaseException) -> tuple[str, str]:
    """Return title and text of a fault as a reader of the pages is told of it."""
    known = explain(fault)
    if known is not None:
        lacking = edition.LACKING if edition.is_older(fault) else EditionError.title
        return getattr(fault, "title", lacking), known
    return (
        "This could not be shown.",
        "The fault was written to the log of the server. Your data are untouched.",
    )


def _page_name() -> str:
    """Return the first word of the address that was asked for."""
    path = dash.ctx.inputs.get("_pages_location.pathname")
    return str(path or "").strip("/").partition("/")[0]


def _outputs() -> list[dict[str, Any]]:
    """Return the outputs of the running callback, always as a list."""
    listed = dash.ctx.outputs_list or []
    return listed if isinstance(listed, list) else [listed]
