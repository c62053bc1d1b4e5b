"""Figures as the drawing library reads them: it refuses what it does not know."""

import functools

import plotly.graph_objects as go


def whole(draw):
    """Return a function whose figures are the library's own, with their arrays as they are."""

    @functools.wraps(draw)
    def drawn(*args, **more):
        figure = draw(*args, **more)
        return go.Figure(data=figure.data, layout=figure.layout)

    return drawn
