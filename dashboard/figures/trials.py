"""A running trial on one time axis, and the chance of a right choice by length."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from dashboard import words
from dashboard.figures.marks import Row, band, column, line, percent_ticks, spaced, word
from dashboard.theme import LIGHT

GAP = 1.6
"""Empty lanes between the two arms."""
LONGEST_PAIR = 7
"""Letters of a pair's name that fit beside its lane; longer names stand in the table alone."""
RATIO_TICKS = (0.25, 0.5, 1.0, 2.0, 4.0, 8.0)


def running_trial(state: Row, stays: Sequence[Row], looks: Sequence[Row]) -> go.Figure:
    """Draw the stays of both arms above the posterior of their life ratio, on one time axis.

    Parameters
    ----------
    state : row of ``trial_states``
    stays : sequence of rows of ``trial_stays``
    looks : sequence of rows of ``trial_looks``
        At least one.
    """
    figure = go.Figure()
    lanes = _lanes(state, stays)
    top = max(lanes.values(), default=0.0) + 1.0
    for row in stays:
        _stay(figure, row, lanes[row["arm"], row["service_point"]])
    notes = [word(f"{state[f'{arm}_arm']}: {state[f'{arm}_construction']}", state["started_on"],
                  at, "ink", yref="y2", yshift=12, xshift=2)
             for arm, at in _arm_tops(state, lanes).items()]
    notes += [word(pair, 0.0, at, "muted", xref="paper", yref="y2", xanchor="right", xshift=-6)
              for pair, at in _pair_names(lanes, stays)]
    notes += _ratio(figure, state, looks)
    last = max([row["look_on"] for row in looks] + [row["ended_on"] for row in stays])
    ends = state["ended_on"] or state["planned_end_on"]
    if ends is not None and ends > last and not state["ended_on"]:
        notes.append(word(f"planned end {words.date(ends)}", last, 1.0, "muted", yref="paper",
                          xanchor="right", yanchor="bottom"))
    figure.update_layout(
        annotations=notes, showlegend=False,
        xaxis={"range": [state["started_on"], last + (last - state["started_on"]) * 0.02],
               "anchor": "y", "nticks": 7, "tickangle": 0},
        yaxis={"domain": [0.0, 0.34], "type": "log", "range": _ratio_range(looks),
               "tickvals": list(RATIO_TICKS), "ticktext": [f"{tick:g}" for tick in RATIO_TICKS],
               "title": {"text": "life ratio"}},
        yaxis2={"domain": [0.42, 0.96], "range": [-0.8, top + 0.4], "visible": False},
        margin={"l": 56, "r": 12, "t": 22, "b": 34},
    )  # fmt: skip
    return figure


def _lanes(state: Row, stays: Sequence[Row]) -> dict[tuple[str, str], float]:
    """Return the height of each place: the first arm above, pairs in the same order in both."""
    pairs = sorted({row["pair"] for row in stays}, key=words.by_number, reverse=True)
    lift = len(pairs) + GAP
    return {
        (row["arm"], row["service_point"]):
            pairs.index(row["pair"]) + (lift if row["arm"] == state["first_arm"] else 0.0)
        for row in stays
    }


def _pair_names(
    lanes: dict[tuple[str, str], float], stays: Sequence[Row]
) -> list[tuple[str, float]]:
    """Return the pair of each lane, and where its name stands."""
    named = {(row["pair"] or "", lanes[row["arm"], row["service_point"]]) for row in stays}
    return sorted(named) if all(len(pair) <= LONGEST_PAIR for pair, _ in named) else []


def _arm_tops(state: Row, lanes: dict[tuple[str, str], float]) -> dict[str, float]:
    """Return where the name of each arm stands."""
    out = {}
    for name in ("first", "second"):
        mine = [at for (arm, _), at in lanes.items() if arm == state[f"{name}_arm"]]
        if mine:
            out[name] = max(mine) + 0.2
    return out


def _stay(figure: go.Figure, row: Row, lane: float) -> None:
    """Draw one stay: a bar, its end marked where the hose failed; ochre where it is a mistake."""
    shade = "petrol-mid" if row["is_as_assigned"] else "ochre"
    end = "failed" if row["is_failure"] else "removed" if row["is_over"] else "in service"
    said = (f"{row['service_point']}, {row['arm']}: {row['hose_id']} ({row['construction']}), "
            f"{words.days((row['ended_on'] - row['installed_on']).days)}, {end}")
    days = [row["installed_on"], row["ended_on"]]
    figure.add_trace(go.Scatter(
        x=days, y=[lane, lane], mode="lines", yaxis="y2", hovertext=[said, said],
        hoverinfo="text", line={"color": LIGHT[shade], "width": 6}))  # fmt: skip
    if not row["is_over"]:
        figure.add_trace(go.Scatter(
            x=days[1:], y=[lane], mode="markers", yaxis="y2", hovertext=[said], hoverinfo="text",
            marker={"symbol": "triangle-right", "size": 11, "color": LIGHT[shade]}))
    else:
        shade, width, size = ("rust", 3, 11) if row["is_failure"] else ("paper", 2, 8)
        figure.add_trace(go.Scatter(
            x=[row["ended_on"]], y=[lane], mode="markers", yaxis="y2", hovertext=[said],
            hoverinfo="text",
            marker={"symbol": "line-ns", "size": size,
                    "line": {"width": width, "color": LIGHT[shade]}}))  # fmt: skip


def _ratio(figure: go.Figure, state: Row, looks: Sequence[Row]) -> list[Row]:
    """Draw the posterior of the life ratio at each look; return the words beside it."""
    day = np.array([row["look_on"] for row in looks])
    middle, lower, upper = (column(looks, f"life_ratio{end}") for end in ("", "_lower", "_upper"))
    hover = [
        f"{words.date(row['look_on'])}: {words.number(row['life_ratio'])} "
        f"({words.spread(row['life_ratio_lower'], row['life_ratio_upper'])}), "
        f"{row['first_failures']:.0f} and {words.count(row['second_failures'], 'failure')}"
        for row in looks
    ]
    shade = band(middle, lower, upper)
    shade.x = np.concatenate([day, day[::-1]])
    ratio = line(middle, middle, hover=hover)
    ratio.x = day
    figure.add_traces([shade, ratio])
    figure.add_hline(y=1.0, line={"color": LIGHT["ink"], "width": 1, "dash": "dot"})
    above = f"{state['second_arm']} lasts longer"
    below = f"{state['first_arm']} lasts longer"
    span = {"yref": "y", "xref": "paper", "xshift": 6}
    twice = float(np.log10(2.0))  # between the lines of twice and half as long, clear of both
    return [word(above, 0.0, twice, "muted", yanchor="top", **span),
            word(below, 0.0, -twice, "muted", yanchor="bottom", **span)]


def _ratio_range(looks: Sequence[Row]) -> list[float]:
    """Return a log range, the same distance up and down."""
    known = [abs(np.log10(row[name])) for row in looks
             for name in ("life_ratio_lower", "life_ratio_upper") if row[name]]
    reach = min(max([*known, np.log10(2.0)]), 1.0) * 1.08
    return [-float(reach), float(reach)]


def right_choice(sizes: Sequence[Row], wanted: float) -> go.Figure:
    """Draw the chance of a right choice by months, one line a number of pairs.

    Parameters
    ----------
    sizes : sequence of rows of ``trial_sizes``
        At least one.
    wanted : float
        The chance that a plan is sized for.
    """
    figure = go.Figure()
    planned = next((row for row in sizes if row["is_planned"]), None)
    notes: list[Row] = []
    for pairs in _few({row["n_pairs"] for row in sizes}, planned):
        mine = [row for row in sizes if row["n_pairs"] == pairs]
        is_it = planned is not None and pairs == planned["n_pairs"]
        hover = [f"{words.count(pairs, 'pair')}, {row['months']} months: "
                 f"{words.percent(row['right_choice_probability'])}, "
                 f"{words.number(row['expected_failures'])} failures expected" for row in mine]
        x, y = column(mine, "months"), column(mine, "right_choice_probability")
        figure.add_trace(line(x, y, "petrol" if is_it else "edge", width=2.0 if is_it else 1.0,
                              hover=hover))
        notes.append(word(words.count(pairs, "pair"), float(x[-1]), float(y[-1]),
                          "petrol" if is_it else "muted", xshift=5,
                          bgcolor=LIGHT["paper"], borderpad=1))
    if planned is not None:
        figure.add_trace(go.Scatter(
            x=[planned["months"]], y=[planned["right_choice_probability"]], mode="markers",
            marker={"color": LIGHT["petrol"], "size": 10}, hoverinfo="skip"))  # fmt: skip
        notes.append(word("the plan", planned["months"], planned["right_choice_probability"],
                          "petrol", yshift=-14))
    figure.add_hline(y=wanted, line={"color": LIGHT["muted"], "width": 1, "dash": "dot"})
    last = max(row["months"] for row in sizes)
    figure.update_layout(
        annotations=_apart(notes),
        xaxis={"range": [0, last * 1.16], "tickvals": list(range(0, last + 1, 12)),
               "title": {"text": "months"}},
        yaxis={"range": [0.5, 1.0], **percent_ticks(np.linspace(0.5, 1.0, 6)),
               "title": {"text": "chance of choosing rightly"}},
        margin={"l": 58, "r": 10, "t": 14, "b": 40},
    )  # fmt: skip
    return figure


def _few(pairs: set[int], planned: Row | None) -> list[int]:
    """Return at most four numbers of pairs: fewest, most, one between and the planned one."""
    ordered = sorted(pairs)
    kept = {ordered[0], ordered[len(ordered) // 2], ordered[-1]}
    if planned is not None:
        near = {other for other in kept if abs(other - planned["n_pairs"]) == 1}
        kept = (kept - near) | {planned["n_pairs"]}
    return sorted(kept)


def _apart(notes: list[Row]) -> list[Row]:
    """Move the names at the ends of the lines apart."""
    named = [note for note in notes if note["text"] != "the plan"]
    heights = spaced([note["y"] for note in named], 0.035, 0.995)
    for note, height in zip(named, heights, strict=True):
        note["y"] = height
    return notes
