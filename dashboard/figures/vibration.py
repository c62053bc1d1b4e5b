"""Maps of life over velocity and frequency, and life over velocity."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from dashboard import units, words
from dashboard.figures.marks import Row, band, column, line, log_ticks, spaced, word
from dashboard.theme import LIGHT
from dashboard.words.vibration import BANDS

COLOURS = (("petrol", "petrol-soft"), ("ink", "grey"))
"""Lines and bands in turn; every line bears its name. Rust and ochre stay for what they mean."""
DASHES = ("solid", "dash", "dot", "dashdot")
STEPS = (1, 1.5, 2, 3, 5, 7)


def life_map(cells: Sequence[Row], dots: Sequence[Row]) -> go.Figure:
    """Draw B10 of one construction over frequency and velocity; blank where no number stands.

    Parameters
    ----------
    cells : sequence of rows
        Of ``vibration_cells`` for one class and construction; all cells of a grid.
    dots : sequence of rows
        One a place, or some that lie together: velocity, frequency, n_places, n_lives, n_failures,
        is_own. Filled where a hose failed; small where the place is of another class.
    """
    speed = np.unique(_speeds(cells))
    hertz = np.unique(column(cells, "frequency_hz"))
    life = column(cells, "b10_days").reshape(speed.size, hertz.size)
    ends = np.array([end for end, _ in BANDS[:-1]])
    level = np.where(np.isnan(life), np.nan, np.searchsorted(ends, life, side="right"))
    n = len(BANDS)
    steps = [[place / n, LIGHT[colour]] for number, (_, colour) in enumerate(BANDS)
             for place in (number, number + 1)]  # fmt: skip
    text = np.array([_cell_words(row) for row in cells]).reshape(life.shape)
    figure = go.Figure(go.Heatmap(
        x=hertz, y=speed, z=level, zmin=-0.5, zmax=n - 0.5, colorscale=steps, showscale=False,
        text=text, hoverinfo="text", hoverongaps=False, xgap=1, ygap=1,
    ))  # fmt: skip
    for own, failed in ((False, False), (False, True), (True, False), (True, True)):
        rows = [row for row in dots if row["frequency_hz"] and row["is_own"] is own
                and (row["n_failures"] > 0) is failed]
        edge = LIGHT["ink" if own else "muted"]
        figure.add_trace(go.Scatter(
            x=column(rows, "frequency_hz"), y=_speeds(rows), mode="markers",
            marker={"size": 6.5 if own else 4, "color": edge if failed else LIGHT["sheet"],
                    "line": {"width": 1, "color": edge}},
            hovertext=[f"{row['service_point'] or words.count(row['n_places'], 'place')}: "
                       f"{_speed_words(row)}, "
                       f"{row['n_failures']:,} of {row['n_lives']:,} failed by vibration"
                       for row in rows], hoverinfo="text",
        ))  # fmt: skip
    natural = cells[0]["natural_frequency_hz"]
    low, high = _edges(hertz)
    shapes, said = [], []
    if natural and low < natural < high:
        shapes.append({"type": "line", "x0": natural, "x1": natural, "y0": 0, "y1": 1,
                       "yref": "paper", "line": {"color": LIGHT["muted"], "width": 1,
                                                 "dash": "dot"}})  # fmt: skip
        middle = 0.3 < np.log(natural / low) / np.log(high / low) < 0.7
        side = "left" if natural < np.sqrt(low * high) else "right"
        said.append(word(f"natural frequency {natural:.0f} Hz, computed", np.log10(natural), 1.0,
                         yref="paper", yanchor="bottom",
                         xanchor="center" if middle else side))  # fmt: skip
    ticks, texts = _ticks(low, high)
    up, up_texts = _ticks(*_edges(speed))
    figure.update_layout(
        shapes=shapes, annotations=said, margin={"l": 44, "r": 6, "t": 24, "b": 40},
        xaxis={"type": "log", "range": np.log10([low, high]).tolist(), "tickvals": ticks,
               "ticktext": texts, "title": {"text": "Hz"}, "showgrid": False},
        yaxis={"type": "log", "range": np.log10(_edges(speed)).tolist(), "tickvals": up,
               "ticktext": up_texts, "title": {"text": units.name("mm/s rms")}, "showgrid": False},
    )  # fmt: skip
    return figure


def _cell_words(row: Row) -> str:
    if row["b10_days"] is None:
        return ""
    return (f"around {_speed_words(row)} and "
            f"{words.number(row['frequency_hz'])} Hz: B10 {words.days(row['b10_days'])} "
            f"({words.spread(row['b10_days_lower'], row['b10_days_upper'])}), "
            f"{words.count(row['n_places'], 'place')} nearby")  # fmt: skip


def _edges(middles: np.ndarray) -> tuple[float, float]:
    """Return the outer edges of cells of even width in the log."""
    half = (middles[1] / middles[0]) ** 0.5 if middles.size > 1 else 1.1
    return float(middles[0] / half), float(middles[-1] * half)


def _ticks(low: float, high: float) -> tuple[list[float], list[str]]:
    """Return round numbers between two ends, near together enough for a short axis."""
    at = [tick for power in range(-3, 4) for step in STEPS
          if low <= (tick := float(f"{step}e{power}")) <= high]
    return at, [f"{tick:g}" for tick in at]


def life_over_velocity(curves: Sequence[Row]) -> go.Figure:
    """Draw B10 over velocity for every construction; each line ends where its hoses end.

    Parameters
    ----------
    curves : sequence of rows
        Of ``vibration_lives`` for one class, by construction and velocity; at least one.
    """
    figure = go.Figure()
    names = list(dict.fromkeys(row["construction"] for row in curves))
    ends = []
    for number, name in enumerate(names):
        mine = [row for row in curves if row["construction"] == name]
        x, y = _speeds(mine), column(mine, "b10_days")
        colour, soft = COLOURS[number % len(COLOURS)]
        dash = DASHES[number // len(COLOURS) % len(DASHES)]
        drawn = band(x, column(mine, "b10_days_lower"), column(mine, "b10_days_upper"), soft)
        drawn.opacity = 0.55
        figure.add_trace(drawn)
        figure.add_trace(line(x, y, colour, dash, hover=[
            f"{name} at {_speed_words(at)}: B10 "
            f"{words.days(at['b10_days'])} "
            f"({words.spread(at['b10_days_lower'], at['b10_days_upper'])})"
            for at in mine]))
        ends.append((name, colour, float(x[-1]), float(y[-1])))
    low = _range(_speeds(curves))
    high = _range(column(curves, "b10_days_lower"), column(curves, "b10_days_upper"))
    wide = float(np.log10(high[1] / high[0]))
    heights = spaced([float(np.log10(end[3])) for end in ends], 0.058 * wide)
    said = [word(name, np.log10(x), height, colour, xshift=6, yanchor="middle",
                 bgcolor=LIGHT["paper"], borderpad=1)
            for (name, colour, x, _), height in zip(ends, heights, strict=True)]
    ticks, texts = _ticks(*low)
    up, up_texts = log_ticks(*high)
    figure.update_layout(
        annotations=said, margin={"l": 52, "r": 96, "t": 8, "b": 40},
        xaxis={"type": "log", "range": np.log10(low).tolist(), "tickvals": ticks,
               "ticktext": texts, "title": {"text": units.name("mm/s rms")}},
        yaxis={"type": "log", "range": np.log10(high).tolist(), "tickvals": up,
               "ticktext": up_texts, "title": {"text": "B10 in days"}},
    )  # fmt: skip
    return figure


def _speeds(rows: Sequence[Row]) -> np.ndarray:
    """Return the vibration velocities of rows in the reader's unit."""
    return np.array([units.value(speed, "mm/s") for speed in column(rows, "velocity_mm_s")])


def _speed_words(row: Row) -> str:
    return units.text(row["velocity_mm_s"], "mm/s", 2)


def _range(*columns: np.ndarray) -> tuple[float, float]:
    values = np.concatenate(columns)
    return float(np.nanmin(values)) / 1.06, float(np.nanmax(values)) * 1.06
