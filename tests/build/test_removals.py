"""How hoses come out unfailed, estimated by class."""

import duckdb
import numpy as np
import pandas as pd
import pytest

from etl.build.lives import Lives
from etl.build.removals import LEAST_REMOVALS, removal_laws


def lives(n_classes):
    """Return a fleet of one construction in so many classes; only its kinds matter here."""
    none, codes = np.zeros(0), np.arange(n_classes)
    return Lives(none.astype(int), none, none, none, none.astype(int), none.astype(int), none,
                 codes, np.zeros(n_classes, int), tuple(f"c{code}" for code in codes), ("k",),
                 (), ())


def database(rows):
    con = duckdb.connect()
    con.execute("create schema fit")
    frame = pd.DataFrame(rows, columns=["cell", "entry", "low", "is_removed", "n"])
    frame["is_open"] = False
    con.register("frame", frame)
    con.execute("create table fit.removals as select cell::integer as cell, entry::double as entry,"
                " low::double as low, is_removed::boolean as is_removed, is_open, n::double as n"
                " from frame")
    return con


def drawn(rng, cell, n, shape, life, failed_from=np.inf):
    ages = life * rng.weibull(shape, n)
    return [(cell, 0.0, float(min(age, failed_from)), bool(age < failed_from), 1.0)
            for age in ages]


def test_the_habit_of_a_class_is_found_among_failures():
    rng = np.random.default_rng(1)
    rows = drawn(rng, 0, 3000, 4.0, 700.0, failed_from=800.0) + drawn(rng, 1, 3000, 1.0, 300.0)
    wearing, steady = removal_laws(database(rows), lives(2))
    assert wearing[0] == pytest.approx(4.0, rel=0.05)
    assert np.exp(wearing[1]) == pytest.approx(700.0, rel=0.02)
    assert steady[0] == pytest.approx(1.0, rel=0.05)
    assert np.exp(steady[1]) == pytest.approx(300.0, rel=0.05)


def test_classes_with_few_removals_share_one_law_and_none_means_none():
    rng = np.random.default_rng(2)
    few = drawn(rng, 0, LEAST_REMOVALS - 1, 2.0, 500.0)
    other = drawn(rng, 2, LEAST_REMOVALS - 1, 2.0, 500.0)
    stay = [(1, 0.0, 400.0, False, 50.0)]
    first, second, third = removal_laws(database(few + stay + other), lives(3))
    assert first is not None
    assert first == second == third  # the second has none of its own: its 50 hoses count
    assert removal_laws(database(few + stay), lives(2)) == [None, None]


def test_a_removal_at_the_age_at_which_the_records_begin_is_left_to_say_nothing():
    rows = drawn(np.random.default_rng(3), 0, 50, 2.0, 500.0)
    plain = removal_laws(database(rows), lives(1))[0]
    more = removal_laws(database([*rows, (0, 90.0, 90.0, False, 4.0)]), lives(1))[0]
    assert more == pytest.approx(plain)
