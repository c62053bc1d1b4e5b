"""Blocks of the page of one kind of hose: sentence, probability plot, mechanisms, curves."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from dash import html

from dashboard import parts, words
from dashboard.figures import lives as figures
from dashboard.figures.weibull_plot import weibull_plot
from dashboard.parts.kind.sections import fits_table, judgement, statuses
from dashboard.parts.matrix import matrix_axis
from dashboard.queries.edition import Row
from dashboard.words import clock as clocks
from dashboard.words import lives as words_lives

Kind = tuple[str, str]
How = Callable[[str, str], Any]
"""Key of a method note and name of a table in, the mark that opens them out."""


NOT_HERE = "No failure by that mechanism here; any failure is shown instead."


def sentence(kind: Kind, fits: Sequence[Row]) -> list[Any]:
    """Return the sentence: how long, and by what most fail."""
    whole = fits[0]
    estimate = clocks.usual_estimate(clocks.of(whole))
    name = words_lives.construction(kind[1])
    known = [parts.strong(name), " hoses"] if name == kind[1] else [
        "hoses, their construction not recorded,"]
    out: list[Any] = [f"On {kind[0]}, ten in a hundred ", *known, " have failed by ",
                      parts.strong(words_lives.ranged(whole, "b10", estimate))]  # fmt: skip
    if estimate == "alone":
        if words_lives.values(whole, "b10", estimate)[0] is None:
            why = words_lives.status(whole["status"], clocks.of(whole))[1]
            return [f"On {kind[0]}, readings do not tell yet by when ten in a hundred ", *known,
                    " have failed: ", parts.strong(why), "."]  # fmt: skip
        out.append(", by these hoses alone")
    causes = [fit for fit in fits if fit["mechanism"] not in ("all", "unknown")
              and fit["n_failures"]]  # fmt: skip
    if not whole["n_failures"]:
        return [*out, ": none has failed yet, the figure is borrowed from like kinds."]
    if not causes:
        return [*out, "; no failure has a concluded mechanism."]
    top = max(causes, key=lambda fit: fit["n_failures"])
    return [*out, "; the commonest cause that was concluded is ",
            parts.strong(words.mechanism(top["mechanism"])),
            f" ({top['n_failures']} of {whole['n_failures']})."]  # fmt: skip


def context(whole: Row, ended: Sequence[Row]) -> list[str]:
    """Return the counts under the sentence."""
    left_out = sum(row["n_excluded"] for row in ended)
    oldest = whole["longest_life_days"]
    return [
        words_lives.evidence(whole),
        ", ".join(f"{words.reason(row['removal_reason'])}: {row['n_lives']:,}" for row in ended),
        f"oldest {words.days(oldest)}" if oldest else "",
        f"{words.count(left_out, 'hose')} not fitted" if left_out else "",
    ]


def probability_plot(fit: Row, points: Sequence[Row], curve: Sequence[Row]) -> Any:
    """Return the probability plot of a fit by its clock, or why there is none."""
    estimate = clocks.usual_estimate(clocks.of(fit))
    label = f"Weibull probability plot: {words_lives.ranged(fit, 'b10', estimate)} B10"
    return (parts.graph("life-cell-weibull", weibull_plot(points, curve, fit), 430, label)
            if curve else parts.empty("Too little is known for a curve."))  # fmt: skip


def running_plot(fit: Row, curve: Sequence[Row], spans: Sequence[Row] = ()) -> Any:
    """Return the share still running by age of a fit's clock, or why there is none."""
    return (parts.graph("life-cell-survival", figures.survival_figure(curve, fit, spans), 320,
                        "Share still running by age")
            if curve else parts.empty("Too little is known for a curve."))  # fmt: skip


def plots(
    fit: Row, points: Sequence[Row], curve: Sequence[Row], second: Row | None, how: How
) -> list[Any]:
    """Return the probability plot and, beside it, what is said of the fit."""
    plot = probability_plot(fit, points, curve)
    said = ("Filled = failed in service, ring = found failed; a Weibull life is a straight line. "
            "Dotted beyond the oldest hose: no evidence there.")  # fmt: skip
    if not points:
        said = "No failure to plot: the line is borrowed from like kinds. " + said
    title = f"Failed by age: {words.mechanism(fit['mechanism'])}, {words_lives.evidence(fit)}"
    return [
        parts.section(title, said, plot, how=how("b10", "plot_points")),
        parts.section("How far to trust it", status_caption(fit),
                      judgement(fit, second), how=how("fit_tests", "fit_tests")),
    ]  # fmt: skip


def status_caption(fit: Row) -> str:
    """Return what the hoses of a kind alone give, in words."""
    short, meaning = words_lives.status(fit["status"], clocks.of(fit))
    return f"These hoses alone: {short}, {meaning}." if meaning else f"These hoses alone: {short}."


def mechanisms(fits: Sequence[Row], chosen: str, how: How) -> html.Section:
    """Return every mechanism with its estimates, and what the statuses mean."""
    clock = clocks.of(fits[0])
    is_days, estimate = clock is clocks.DAYS, clocks.usual_estimate(clock)
    return parts.section(
        "Mechanisms, each with the others competing",
        ("Pooled estimates" if is_days else f"By these hoses alone, in {clock.title}")
        + "; 90 % ranges in brackets. B10 by one mechanism is what it would be were "
        "this mechanism alone. Choose one to see its plot.",
        fits_table(fits, matrix_axis(fits, "b10", estimate), chosen), statuses(fits),
        how=how("b10", "fits") if is_days else how("clock_fits", "clock_fits"),
    )  # fmt: skip


def _without_law(fit: Row, spans: Sequence[Row]) -> html.P | None:
    """Return what the steps in the survival figure are, where there are any."""
    if not spans:
        return None
    found = words.count(fit["n_intervals"], "hose")
    said = (f"Grey steps: no law supposed (Turnbull's estimate). {found} of "
            f"{fit['n_failures']} that failed {'was' if fit['n_intervals'] == 1 else 'were'} found "
            "failed: between the two looks, in a box, nobody knows when. A step plot that takes "
            "one day for each would be wrong. A line of these hoses alone that runs far from the "
            "steps hardly describes them.")  # fmt: skip
    if not all(row["is_settled"] for row in spans):
        said += " The steps are close to their best place, not quite on it."
    return html.P(said, className="caption")


def curves(
    fit: Row, curve: Sequence[Row], rows: Sequence[Row], spans: Sequence[Row], how: How
) -> list[Any]:
    """Return the share still running and the mechanisms competing."""
    running = running_plot(fit, curve, spans)
    causes = (
        parts.graph("life-cell-incidence", figures.incidence_figure(rows), 320,
                    "Chance of having failed by each mechanism, by age")
        if rows else parts.empty("No mechanism has enough failures to be shown apart.")
    )  # fmt: skip
    return [
        parts.section("Still running after so many days",
                      f"{words.mechanism(fit['mechanism'])}; pooled, 90 % range", running,
                      _without_law(fit, spans), how=how("b10", "life_curves")),
        parts.section("What they fail by", "Chance of having failed by each mechanism, all "
                      "competing; blank above is the share still running", causes,
                      how=how("cumulative_incidence", "cumulative_incidence")),
    ]  # fmt: skip
