"""Cost by month as a drawing that stands in the page itself."""

from __future__ import annotations

from collections.abc import Sequence

from dashboard import words
from dashboard.figures.axis import linear_axis
from dashboard.parts.month.sections import Scale
from dashboard.queries.edition import Row

WIDTH, HEIGHT = 1080.0, 230.0
NARROW = 360.0
"""Width on a phone, so that its letters stay as large as those of the text."""
LEFT, BOTTOM, TOP = 52.0, 24.0, 8.0


def cost_drawing(
    past: Sequence[Row], ahead: Sequence[Row], scale: Scale, *, is_narrow: bool = False
) -> str:
    """Return bars of the past months and dots with ranges of the coming ones, as SVG.

    Parameters
    ----------
    past : sequence of rows
        month, cost.
    ahead : sequence of rows
        month, cost_mean, cost_lower, cost_upper.
    scale : Scale
        Unit of the axis.
    is_narrow : bool
        For a phone, where the style sheet shows it instead of the wide one.

    Returns
    -------
    str
        In the colour names of the page; nothing where there is no month.
    """
    months = [*past, *ahead]
    if not months:
        return ""
    tops = [row["cost"] for row in past] + [row["cost_upper"] for row in ahead]
    axis = linear_axis([None if top is None else top / scale.factor for top in tops])
    width, dot = (NARROW, 2.5) if is_narrow else (WIDTH, 4.5)
    step = (width - LEFT) / len(months)

    def height(value: float) -> float:
        share = min(1.0, max(0.0, axis.position(value / scale.factor) / 100.0))
        return HEIGHT - BOTTOM - share * (HEIGHT - BOTTOM - TOP)

    marks = [_tick(height(tick * scale.factor), words.number(tick), width) for tick in axis.ticks]
    for at, row in enumerate(past):
        x, y = LEFT + (at + 0.2) * step, height(row["cost"])
        title = f"{_month(row)}: {scale.written(row['cost'])} {scale.long}"
        marks.append(f'<rect class="past" x="{x:.1f}" y="{y:.1f}" width="{0.6 * step:.1f}" '
                     f'height="{HEIGHT - BOTTOM - y:.1f}"><title>{title}</title></rect>')
    for at, row in enumerate(ahead, start=len(past)):
        x = LEFT + (at + 0.5) * step
        span = words.spread(row["cost_lower"] / scale.factor, row["cost_upper"] / scale.factor)
        title = f"{_month(row)}: {scale.written(row['cost_mean'])} ({span}) {scale.long}"
        marks.append(
            f'<line class="range" x1="{x:.1f}" x2="{x:.1f}" y1="{height(row["cost_lower"]):.1f}" '
            f'y2="{height(row["cost_upper"]):.1f}"/><circle class="ahead" cx="{x:.1f}" '
            f'cy="{height(row["cost_mean"]):.1f}" r="{dot}"><title>{title}</title></circle>')
    every = 9 if is_narrow else 3
    marks += [
        f'<text x="{LEFT + (at + 0.5) * step:.1f}" y="{HEIGHT - 6:.0f}" text-anchor="middle">'
        f"{_month(row)}</text>"
        for at, row in enumerate(months) if at % every == 0
    ]  # fmt: skip
    if past and ahead:
        x = LEFT + len(past) * step
        marks.append(f'<line class="now" x1="{x:.1f}" x2="{x:.1f}" y1="{TOP}" '
                     f'y2="{HEIGHT - BOTTOM}"/>')
    label = (f"Cost by month: {words.count(len(past), 'month')} past, {len(ahead)} ahead, "
             f"{scale.long}")
    shown = "only-narrow" if is_narrow else "only-wide"
    return (f'<svg class="{shown}" viewBox="0 0 {width:.0f} {HEIGHT:.0f}" role="img" '
            f'aria-label="{label}">'
            + "".join(marks) + "</svg>")


def _tick(y: float, text: str, width: float) -> str:
    return (f'<line class="grid" x1="{LEFT}" x2="{width:.0f}" y1="{y:.1f}" y2="{y:.1f}"/>'
            f'<text x="{LEFT - 6}" y="{y + 4:.1f}" text-anchor="end">{text}</text>')


def _month(row: Row) -> str:
    return f"{words.month_name(row['month'])[:3]} {row['month'].year}"
