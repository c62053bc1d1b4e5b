"""Large tables: rows come from the server page by page, sorted and filtered there."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import dash_ag_grid as dag
from dash import html

from dashboard.figures.axis import Axis
from dashboard.queries.edition import Row
from dashboard.queries.paged import FILTER, PagedTable, asked_filters, asked_rows, asked_sort
from dashboard.table_view import View, first_page, sorted_columns

PAGE_ROWS = 25
ROW_HEIGHT = 60
HEADER_HEIGHT = 52
PAGER_HEIGHT = 48
NO_ROW = "No row fits these filters."


def column(
    name: str, title: str, cell: str | None = None, *, called: str = "", **options: Any
) -> dict[str, Any]:
    """Return a column.

    Parameters
    ----------
    name, title : str
    cell : str, optional
        Drawing of assets/cells.js, text when None.
    called : str
        Short name in the address of a page sorted by it.
    **options
        Further settings of the column.
    """
    out: dict[str, Any] = {"field": name, "colId": name, "headerName": title} | options
    out["context"] = {"called": called or name} | options.get("context", {})
    if cell:
        out["cellRenderer"] = cell
    return out


def interval_column(
    name: str, title: str, axis: Axis, written: Callable[[float], str], **options: Any
) -> dict[str, Any]:
    """Return a column of dots on lines with the shared scale printed in its header."""
    ticks = [{"at": round(axis.position(t), 2), "text": written(t)} for t in axis.ticks]
    return column(
        name, title, "Interval", headerComponent="ScaleHeader",
        headerComponentParams={"ticks": ticks}, **options,
    )  # fmt: skip


def grid(
    id: str, columns: Sequence[dict[str, Any]], *, label: str,
    filters: Mapping[str, str] | None = None, filter_names: Sequence[str] = (),
    page_rows: int = PAGE_ROWS, row_height: int = ROW_HEIGHT, n_rows: int | None = None,
    view: View | None = None,
) -> html.Div:  # fmt: skip
    """Return a table whose rows are asked for with ``getRowsRequest`` (see `answer`).

    Parameters
    ----------
    id : str
        ``<page>-<thing>``.
    columns : sequence of dict
        From `column` and `interval_column`.
    label : str
        What the table holds, for those who do not see it.
    filters : mapping, optional
        Filters that are set from the start.
    filter_names : sequence of str
        Every filter the page can set through the property ``filterModel`` (see `filter_model`).
    page_rows, row_height : int
        Rows of one page, and pixels kept for a row until its words are there.
    n_rows : int, optional
        Rows there are at first, so that a short table takes no more room than it needs.
    view : View, optional
        Order and page of the address.
    """
    view = view or View({})
    begun = first_page(view, n_rows or 0, page_rows)
    hidden = [
        {"field": FILTER + name, "colId": FILTER + name, "hide": True,
         "filter": "agTextColumnFilter"}
        for name in filter_names
    ]
    options = {
        "rowHeight": row_height,
        "headerHeight": HEADER_HEIGHT,
        "pagination": True,
        "paginationPageSize": page_rows,
        "paginationPageSizeSelector": False,
        "cacheBlockSize": page_rows,
        "infiniteInitialRowCount": (n_rows or 1) if begun else 1,
        "initialState": {"pagination": {"page": begun, "pageSize": page_rows}},
        "maxBlocksInCache": 20,
        "suppressCellFocus": False,
        "domLayout": "autoHeight",  # rows are as high as their words (see d_grid.css)
        "ensureDomOrder": True,
        "enableCellTextSelection": True,
        "suppressMovableColumns": True,
        "suppressDragLeaveHidesColumns": True,
        "localeText": dict.fromkeys(("noRowsToShow", "noMatchingRows"), NO_ROW),
    }
    table = dag.AgGrid(
        id=id,
        rowModelType="infinite",
        columnDefs=[*sorted_columns(columns, view), *hidden],
        defaultColDef={"resizable": False, "sortable": True, "suppressHeaderMenuButton": True},
        filterModel=filter_model(filters or {}),
        columnSize="responsiveSizeToFit",
        dashGridOptions=options,
        className="grid",
        style={"height": None},
    )
    # The room is kept from the start, so that nothing below moves when the table arrives.
    # Drawn anew with the page, by a key of its own: only so Back leaves nothing of a later order.
    return html.Div(
        table, id=f"{id}-room", role="region", className="grid-room",
        key=secrets.token_hex(8),
        style=room(page_rows if n_rows is None else n_rows, page_rows, row_height),
        **{"aria-label": label},
    )  # fmt: skip


def room(
    n_rows: int, page_rows: int = PAGE_ROWS, row_height: int = ROW_HEIGHT
) -> dict[str, str]:
    """Return the ``style`` of ``<id>-room`` that keeps place for a page until its rows come."""
    shown = min(page_rows, max(2, n_rows))
    return {"minHeight": f"{HEADER_HEIGHT + shown * row_height + PAGER_HEIGHT + 2}px"}


def filter_model(filters: Mapping[str, Any]) -> dict[str, Any]:
    """Return the property ``filterModel`` for a set of named filters."""
    return {
        FILTER + name: {"filterType": "text", "type": "equals", "filter": str(value)}
        for name, value in filters.items()
        if value not in (None, "")
    }


def answer(
    table: PagedTable, request: Any, cells: Callable[[list[Row]], list[dict[str, Any]]]
) -> dict[str, Any]:
    """Return the rows a table asks for, and how many there are in all.

    Parameters
    ----------
    table : PagedTable
    request : mapping
        Property ``getRowsRequest`` as the browser sent it: nothing in it is trusted.
    cells : callable
        Turns rows into what the columns draw.
    """
    if not isinstance(request, Mapping):
        return {"rowData": [], "rowCount": 0}
    filters = asked_filters(request)
    rows = table.page(filters, asked_sort(request), *asked_rows(request))
    return {"rowData": cells(rows), "rowCount": table.count(filters)}
