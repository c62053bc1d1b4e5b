"""Pages laid out and components made by us are what the library itself would send."""

import json

import dash
import plotly.graph_objects as go
import pytest
from dash import html
from plotly.io.json import to_json_plotly

from dashboard import light, sent
from tests.dashboard.page_reader import found

PATHS = ("/", "/places", "/places/HD-1%20discharge", "/lives", "/vibration", "/track-record",
         "/lives/homogeniser%20discharge/C-304-OP1", "/trials", "/trials/T-1", "/spares",
         "/teardown", "/physics", "/data-health", "/guide", "/start")


@pytest.mark.parametrize("path", PATHS)
def test_a_page_is_sent_as_the_library_would_send_it(full, path, monkeypatch):
    kept = []

    def both(node):
        if not kept:
            kept.append(to_json_plotly(node))  # first: laying out changes nothing
        return whole(node)

    whole = sent.plain
    monkeypatch.setattr(sent, "plain", lambda node: both(node))
    laid_out = full.layout(path)
    monkeypatch.setattr(sent, "plain", whole)
    assert json.loads(kept[0]) == laid_out
    assert laid_out["type"]


def test_every_figure_is_one_that_the_library_knows(full):
    drawn = [store["data"] for path in PATHS for store in found(full.layout(path), "Store")
             if isinstance(store.get("data"), dict) and "layout" in store["data"]]
    assert len(drawn) > 8
    for figure in drawn:
        assert len(go.Figure(figure).data) == len(figure["data"])  # it refuses what it has not
    with pytest.raises(ValueError, match="colour"):
        go.Figure({"data": [{"type": "scatter", "colour": "red"}], "layout": {}})


def test_every_page_is_laid_out(full):
    pages = [page for page in dash.page_registry.values() if callable(page["layout"])]
    assert len(pages) > 15
    assert all(hasattr(page["layout"], sent.IS_LAID_OUT) for page in pages)


@pytest.mark.parametrize("kind", [html.Td, html.Tr, html.Span, html.Div])
def test_a_light_component_is_the_same_component(kind):
    make = light.light(kind)
    for children, more in ((None, {}), ("a", {"className": "x"}), (["a", html.B("b")], {
            "id": {"type": "t", "index": 1}, "style": {"left": "1%"}, "data-head": "h",
            "aria-label": "l"})):
        mine, other = make(children, **more), kind(children, **more)
        assert type(mine) is kind
        assert mine.to_plotly_json() == other.to_plotly_json()
    with pytest.raises(TypeError, match="has no property colour"):
        make("a", colour="red")
    assert make().to_plotly_json() == kind().to_plotly_json()  # nothing was left behind
