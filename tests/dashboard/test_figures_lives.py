"""Figures of lives say what their rows say."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from dashboard.figures.lives import comparison_figure, incidence_figure, survival_figure
from dashboard.figures.marks import spaced
from dashboard.figures.spares import demand_figure
from dashboard.figures.weibull_plot import weibull_plot

FIT = {"longest_life_days": 900.0, "shape": 2.0}


def curve(shape, life, ages=None):
    ages = np.geomspace(5.0, 3000.0, 60) if ages is None else ages
    rows = []
    for age in ages:
        row = {"age": float(age)}
        for name, factor in (("", 1.0), ("_lower", 0.8), ("_upper", 1.25)):
            value = float(np.exp(-((age / (life * factor)) ** shape)))
            row |= {f"survival{name}": value, f"survival_alone{name}": value}
        rows.append(row)
    return rows


def shown(figure, hover=True):
    """Return every line that answers to the pointer, as x, y, dash."""
    return [(t.x, t.y, t.line.dash) for t in figure.data
            if t.mode == "lines" and t.hoverinfo == ("text" if hover else "skip")]


@pytest.mark.parametrize("shape", [0.6, 1.0, 3.5])
def test_a_weibull_life_is_a_straight_line_whose_slope_is_the_shape(shape):
    figure = weibull_plot([], curve(shape, 700.0), FIT | {"longest_life_days": None})
    x, y, _ = max(shown(figure), key=lambda item: len(item[0]))
    inside = y > -8
    slope, level = np.polyfit(np.log(x[inside]), y[inside], 1)
    assert_allclose([slope, np.exp(-level / slope)], [shape, 700.0], rtol=1e-6)


def test_the_axis_prints_percent_at_the_height_of_the_scale():
    figure = weibull_plot([], curve(2.0, 700.0), FIT)
    at = dict(zip(figure.layout.yaxis.ticktext, figure.layout.yaxis.tickvals, strict=True))
    assert_allclose(at["63.2 %"], 0.0, atol=1e-3)
    assert_allclose(at["10 %"], np.log(-np.log(0.9)))


def test_the_pooled_line_is_dotted_beyond_the_oldest_hose():
    solid, dotted = shown(weibull_plot([], curve(2.0, 700.0), FIT))
    assert (solid[2], dotted[2]) == ("solid", "dot")
    assert dotted[0].min() <= 900.0 * 1.2
    assert solid[0][:-1].max() <= 900.0 < dotted[0][1]


def test_failures_stand_at_their_plotting_positions_and_found_ones_are_rings():
    points = [{"age": 100.0, "failure_probability": 0.1, "kind": "failed"},
              {"age": 300.0, "failure_probability": 0.5, "kind": "interval"}]
    marks = {t.marker.symbol: t for t in weibull_plot(points, curve(2.0, 700.0), FIT).data
             if t.mode == "markers"}
    assert_allclose(marks["circle"].y, [np.log(-np.log(0.9))])
    assert_allclose(marks["circle-open"].y, [np.log(np.log(2.0))])
    assert list(marks["circle-open"].x) == [300.0]


def test_without_a_stand_alone_fit_nothing_claims_one():
    rows = [row | {f"survival_alone{s}": None for s in ("", "_lower", "_upper")}
            for row in curve(2.0, 700.0)]
    fit = FIT | {"shape": None}
    for figure in (weibull_plot([], rows, fit), survival_figure(rows, fit)):
        assert not any("alone" in note.text for note in figure.layout.annotations)


def test_survival_without_a_law_falls_in_steps_and_is_a_box_where_nobody_looked():
    spans = [{"start_days": a, "end_days": b, "survival_before": one, "survival_after": two}
             for a, b, one, two in ((100.0, 100.0, 1.0, 0.8), (200.0, 300.0, 0.8, 0.3),
                                    (500.0, None, 0.3, None))]
    rows = curve(2.0, 700.0)
    plain, drawn = survival_figure(rows, FIT), survival_figure(rows, FIT, spans)
    upper, lower = [t for t in drawn.data if t.hovertext and "no law" in t.hovertext[0]]
    assert len(drawn.data) == len(plain.data) + 3
    box = (np.asarray(upper.x) >= 200.0) & (np.asarray(upper.x) <= 300.0)
    assert np.asarray(upper.y)[box].tolist() == [0.8, 0.8, 0.8, 0.3]
    assert np.asarray(lower.y)[box].tolist() == [0.8, 0.3, 0.3, 0.3]
    assert (upper.x[-1], upper.y[-1], lower.y[-1]) == (500.0, 0.3, 0.3)
    assert "30\xa0% to 80\xa0% still running" in upper.hovertext[6]


def test_a_large_fleet_sends_no_more_points_than_can_be_seen():
    ages = np.sort(np.random.default_rng(1).weibull(2.0, 50_000) * 700.0)
    shares = (np.arange(1, 50_001) - 0.3) / 50_000.4
    points = [{"age": a, "failure_probability": f, "kind": "failed"}
              for a, f in zip(ages.tolist(), shares.tolist(), strict=True)]
    (marks,) = [t for t in weibull_plot(points, curve(2.0, 700.0), FIT).data
                if t.mode == "markers" and t.marker.symbol == "circle"]
    assert len(marks.x) < 2500
    assert (marks.x[0], marks.x[-1]) == (ages[0], ages[-1])
    drawn = np.exp(np.interp(np.log(ages), np.log(marks.x), marks.y))
    assert_allclose(drawn, -np.log1p(-shares), rtol=0.03)  # a pixel of 400 is 0.03 of a share
    spans = [{"start_days": a, "end_days": a, "survival_before": 1 - f, "survival_after": 1 - g}
             for a, f, g in zip(ages, shares, [*shares[1:], 1.0], strict=True)]
    lines = [t for t in survival_figure(curve(2.0, 700.0), FIT, spans).data
             if t.hovertext and "no law" in t.hovertext[0]]
    assert len(lines) == 2
    for edge in lines:
        assert len(edge.x) < 2500
        assert_allclose(np.interp(ages, edge.x, edge.y), 1 - shares, atol=2 / 600)


def test_two_kinds_differ_by_more_than_colour():
    figure = comparison_figure({"one": curve(2.0, 700.0), "two": curve(2.0, 900.0)})
    assert {dash for _, _, dash in shown(figure)} == {"solid", "dash"}
    assert [note.text for note in figure.layout.annotations] == ["one", "two"]


def test_names_are_written_as_they_stand():
    rows = curve(2.0, 700.0)
    figure = comparison_figure({"<b>x</b>": rows, "a & b": rows})
    assert [n.text for n in figure.layout.annotations] == ["&lt;b&gt;x&lt;/b&gt;", "a &amp; b"]


def incidence(n):
    return [{"mechanism": f"cause_{i}", "age_days": age, "probability": age / 1000 * 0.02 * (i + 1)}
            for i in range(n) for age in (0.0, 500.0, 1000.0)]


def test_layers_stack_to_the_sum_of_all_chances():
    rows = incidence(3)
    tops = shown(incidence_figure(rows))
    assert_allclose(tops[-1][1], [0.0, 0.06, 0.12])
    assert_allclose(tops[0][1], [0.0, 0.03, 0.06])


def test_many_mechanisms_share_one_last_layer():
    figure = incidence_figure(incidence(8))
    assert len(shown(figure)) == 6
    texts = [note.text for note in figure.layout.annotations]
    assert "3 others" in texts[-1]
    assert_allclose(shown(figure)[-1][1][-1], 0.02 * sum(range(1, 9)))


@pytest.mark.parametrize("wanted", [[0.0, 0.0, 0.0], [1.0, 0.9], [0.1, 0.5, 0.12, 0.11]])
def test_labels_keep_their_distance_and_their_order(wanted):
    placed = spaced(wanted, 0.1)
    assert np.all(np.diff(np.sort(placed)) > 0.1 - 1e-3)
    order = np.argsort(wanted, kind="stable")
    assert np.all(np.diff(np.asarray(placed)[order]) > 0)


def part(**changed):
    row = {f"{kind}_{span}_months": span * factor for span in (3, 6, 12)
           for kind, factor in (("mean", 0.2), ("lower", 0.1), ("upper", 0.4))}
    return row | {f"stock_{span}_months": span // 3 for span in (3, 6, 12)} | {
        "on_hand": 2, "on_order": None} | changed


def test_demand_shows_stock_only_where_a_log_says_so():
    texts = [n.text for n in demand_figure(part()).layout.annotations]
    assert "2 here or on order" in texts
    texts = [n.text for n in demand_figure(part(on_hand=None)).layout.annotations]
    assert not any("here" in text for text in texts)
    assert "hold 4" in texts


def test_demand_leaves_out_a_span_without_a_figure():
    figure = demand_figure(part(mean_3_months=None))
    assert list(figure.layout.yaxis.ticktext) == ["12 months", "6 months"]


def test_by_another_clock_a_figure_says_its_unit_and_that_nothing_is_pooled():
    fit = {"clock": "run_hours", "longest_life": 900.0, "shape": 2.0}
    rows = [row | {f"survival_alone{end}": None for end in ("", "_lower", "_upper")}
            for row in curve(2.0, 700.0)]
    points = [{"age": 100.0, "failure_probability": 0.1, "kind": "failed"}]
    plot, running = weibull_plot(points, rows, fit), survival_figure(rows, fit)
    assert plot.layout.xaxis.title.text == "age in run hours (log scale)"
    assert running.layout.xaxis.title.text == "run hours"
    for figure in (plot, running):
        texts = [note.text.replace("<br>", " ") for note in figure.layout.annotations]
        assert "oldest hose, 900 h" in texts
        assert "these hoses alone, band = 90 % range" in texts
        hovers = [text for trace in figure.data for text in trace.hovertext or ()]
        assert all("run hours" in text and "pooled" not in text for text in hovers if text)
