"""Colours, type and spacing, stated once: for the style sheet, the figures and the inputs."""

from __future__ import annotations

from typing import Any

import plotly.graph_objects as go

FONT = "'Source Sans 3 Variable', system-ui, sans-serif"

LIGHT = {
    "paper": "#faf8f4",
    "sheet": "#fffefb",
    "ink": "#1b2227",
    "muted": "#5b666d",
    "rule": "#ddd8cd",
    "edge": "#8a8477",
    "petrol": "#0a6a72",
    "petrol-soft": "#dcebea",
    "petrol-mid": "#7fb3b6",
    "rust": "#ad421b",
    "rust-soft": "#f5e1d7",
    "rust-mid": "#d99a80",
    "ochre": "#8a6100",
    "ochre-soft": "#f4ead0",
    "grey": "#c9c3b6",
}
"""Colours of the light scheme by what they are for; edge outlines inputs and is 3 to 1."""

DARK = {
    "paper": "#12171a",
    "sheet": "#181e22",
    "ink": "#e9e5dc",
    "muted": "#9aa5ab",
    "rule": "#2d363b",
    "edge": "#717d84",
    "petrol": "#5fc3c7",
    "petrol-soft": "#1b3336",
    "petrol-mid": "#3b7f84",
    "rust": "#f0895f",
    "rust-soft": "#3d251b",
    "rust-mid": "#a5593c",
    "ochre": "#e0b455",
    "ochre-soft": "#332a17",
    "grey": "#4a545a",
}
"""The same roles in the dark scheme."""

SIZES = {"small": "12.5px", "note": "13px", "text": "15px", "headline": "25px"}
SPACES = {"s1": "4px", "s2": "8px", "s3": "14px", "s4": "22px", "s5": "34px"}


def style_variables() -> str:
    """Return the style sheet text that names every colour, size and space."""

    def block(selector: str, values: dict[str, str]) -> str:
        return selector + "{" + "".join(f"--{k}:{v};" for k, v in values.items()) + "}"

    fixed = {f"size-{k}": v for k, v in SIZES.items()} | SPACES | {"font": FONT}
    # Both schemes by name, so that the browser can exchange one for the other in a figure.
    fixed |= {f"light-{k}": v for k, v in LIGHT.items()} | {f"dark-{k}": v for k, v in DARK.items()}
    fixed["roles"] = " ".join(LIGHT)
    return (
        block(":root", LIGHT | fixed)
        + block(":root[data-mantine-color-scheme=dark]", DARK)
        + "@media print{"
        + block(":root,:root[data-mantine-color-scheme=dark]", LIGHT | {"paper": "#ffffff"})
        + "}"
    )


def dark_if_preferred() -> str:
    """Return the style sheet text of a file on its own: dark where its reader's screen is."""
    values = "".join(f"--{k}:{v};" for k, v in DARK.items())
    return f"@media screen and (prefers-color-scheme:dark){{:root{{color-scheme:dark;{values}}}}}"


def figure_template() -> go.layout.Template:
    """Return the template of every figure, in the light scheme.

    Notes
    -----
    A figure is always built in the light colours. In the browser each colour of `LIGHT` is
    replaced by its partner in `DARK` when the dark scheme is on, so a figure need not be asked
    for twice.
    """
    axis: dict[str, Any] = {
        "gridcolor": LIGHT["rule"],
        "linecolor": LIGHT["rule"],
        "zeroline": False,
        "showline": False,
        "ticks": "",
        "automargin": True,
        "fixedrange": True,
        "title": {"font": {"size": 12.5, "color": LIGHT["muted"]}, "standoff": 8},
        "tickfont": {"size": 12.5, "color": LIGHT["muted"]},
    }
    return go.layout.Template(
        layout=go.Layout(
            font={"family": FONT, "size": 13, "color": LIGHT["ink"]},
            paper_bgcolor="rgba(0,0,0,0)",
            plot_bgcolor="rgba(0,0,0,0)",
            colorway=[LIGHT["petrol"], LIGHT["rust"], LIGHT["ochre"], LIGHT["muted"]],
            margin={"l": 48, "r": 12, "t": 14, "b": 34},
            showlegend=False,
            dragmode=False,
            hovermode="closest",
            hoverlabel={
                "bgcolor": LIGHT["sheet"],
                "bordercolor": LIGHT["edge"],
                "font": {"family": FONT, "size": 13, "color": LIGHT["ink"]},
            },
            xaxis=axis | {"showgrid": False},
            yaxis=axis,
        )
    )


def mantine_theme() -> dict[str, Any]:
    """Return the look of the inputs: square corners, our type, no shadow."""
    return {
        "fontFamily": FONT,
        "defaultRadius": 0,
        "primaryColor": "petrol",
        "colors": {"petrol": [LIGHT["petrol"]] * 6 + [LIGHT["petrol"]] * 4},
        "shadows": dict.fromkeys(("xs", "sm", "md", "lg", "xl"), "none"),
        "fontSizes": {"sm": SIZES["text"], "xs": SIZES["note"]},
        "focusRing": "never",
    }
