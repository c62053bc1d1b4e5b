"""From tables to arrays: strata, stand-alone rows, and failures expected at each place."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from etl.build.forecast import forecast_months
from etl.build.lives import Lives
from etl.build.rates import seen_and_expected
from etl.build.standalone import standalone_rows
from etl.build.strata import failures_of, strata_of
from etl.build.words import fit_note, number, rank_reason

INF = np.inf


def fleet() -> Lives:
    """Two classes, two constructions; class "drum" has no concluded mechanism at all."""
    rows = [  # cell, place, mechanism, entry, low, high
        (0, 0, 0, 0, 100, 100), (0, 0, 1, 0, 50, 50), (0, 1, -1, 20, 300, INF),
        (0, 1, -2, 0, 80, 80), (1, 1, 0, 0, 60, 90), (1, 2, -1, 0, 10, INF),
        (2, 3, -2, 0, 200, 200), (2, 3, -1, 0, 400, INF),
    ]
    columns = zip(*rows, strict=True)
    cell, place, mechanism, entry, low, high = (np.array(column) for column in columns)
    return Lives(
        cell=cell, entry=entry.astype(float), low=low.astype(float), high=high.astype(float),
        mechanism=mechanism, place=place, count=np.ones(len(rows)),
        cell_class=np.array([1, 1, 0]), cell_construction=np.array([0, 1, 0]),
        classes=("drum", "loop"), constructions=("A", "B"), mechanisms=("bend", "vib"),
        places=("p0", "p1", "p2", "p3"),
    )


def test_a_mechanism_gets_strata_only_in_classes_where_it_was_concluded():
    strata = strata_of(fleet())
    assert strata.names == ("bend", "vib", "unknown")
    assert list(zip(strata.cell, strata.mechanism, strict=True)) == [
        (0, 0), (0, 1), (1, 0), (1, 1), (2, 2)]


def test_failures_are_sorted_into_what_is_known_of_them():
    lives = fleet()
    found = failures_of(lives, strata_of(lives))
    assert found.n_exact.tolist() == [1, 1, 0, 0, 1]
    assert_allclose(found.sum_log_age, np.log([100, 50, 1, 1, 200]))
    assert found.masked_cell.tolist() == [0]
    assert found.masked_age.tolist() == [80]
    assert found.interval_stratum.tolist() == [2]


def test_standalone_rows_suspend_failures_by_other_mechanisms():
    lives = fleet()
    strata = strata_of(lives)
    rows = standalone_rows(lives, strata)
    failed = np.isfinite(rows.high)
    counts = np.bincount(rows.stratum[failed], minlength=rows.n_strata)
    assert counts.tolist() == [1, 1, 1, 0, 1, 3, 1, 1]
    assert np.bincount(rows.stratum, minlength=rows.n_strata).tolist() == [4, 4, 2, 2, 2, 4, 2, 2]
    assert rows.low[(rows.stratum == 3) & ~failed].max() == 60.0


def test_expected_failures_are_the_summed_hazard_of_each_place():
    lives = fleet()
    strata = strata_of(lives)
    shape = np.array([1.5, 2.0, 1.2, 3.0, 0.8])
    life = np.array([200.0, 150.0, 300.0, 120.0, 500.0])
    draws = np.log(shape)[None, :].repeat(7, axis=0), np.log(life)[None, :].repeat(7, axis=0)
    seen, expected = seen_and_expected(lives, strata, *draws)
    by_hand = np.zeros(4)
    lived = zip(lives.cell, lives.place, lives.entry, lives.end, strict=True)
    for cell, place, entry, end in lived:
        for k in np.flatnonzero(strata.cell == cell):
            by_hand[place] += (end / life[k]) ** shape[k] - (entry / life[k]) ** shape[k]
    assert seen.tolist() == [2, 2, 0, 1]
    assert_allclose(expected, by_hand, rtol=1e-3)


@pytest.mark.parametrize(
    ("value", "words"), [(0.0, "none"), (0.03, "less than 0.1"), (2.14, "2.1"), (31.6, "32")]
)
def test_small_counts_are_said_as_a_person_would(value, words):
    assert number(value) == words


def test_reasons_carry_counts_and_say_what_is_missing():
    said = rank_reason(7, 2.1, is_falling=True, chance_90_days=0.4, has_hose=True)
    assert said == "7 failed where 2.1 were expected; lives falling; 40\xa0% chance of failing " \
        "within 90 days"
    assert "no hose in service" in rank_reason(
        0, 0.2, is_falling=False, chance_90_days=0.9, has_hose=False)


def test_notes_tell_of_extrapolation_and_open_mechanisms():
    assert fit_note(0, 100.0, 250.0) is None
    assert "extrapolated" in str(fit_note(0, 100.0, 400.0))
    assert "3 failures" in str(fit_note(3, 100.0, None))


@pytest.mark.parametrize(("as_of", "months"), [
    ("2026-10-31", ["2026-11-01", "2026-12-01", "2027-10-01"]),
    ("2026-11-15", ["2026-11-16", "2026-12-16", "2027-10-16"]),
    ("2026-01-30", ["2026-01-31", "2026-02-28", "2026-12-31"]),
])
def test_forecast_months_follow_the_data_date(as_of, months):
    found = SimpleNamespace(as_of=pd.Timestamp(as_of))
    given = forecast_months(found)
    assert [str(day.date()) for day in given[[0, 1, 11]]] == months
    assert len(given) == 12
