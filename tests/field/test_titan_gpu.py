"""Lives of graphics processors by position in a supercomputer.

Source: repository olcf/TitanGPULife, data/gc_full.csv and gc_summary_loc.csv; Ostrouchov,
Maxwell, Ashraf, Engelmann, Shankar and Rogers, "GPU Lifetimes on Titan Supercomputer: Survival
Analysis and Reliability", SC20 (2020). Counts are facts of the file, found by reading it.
"""

import numpy as np
import pytest

from etl.life.fit import fit_strata

pytestmark = pytest.mark.field
DATA_SET = "titan_gpu"
FILES = ("gc_full.csv", "gc_summary_loc.csv")


def one(con, query):
    return con.execute(query).fetchall()[0][0]


def fit(con, where, failed):
    rows = con.execute(
        "select entry_age_days as entry, age_low_days as low, "
        f"case when {failed} then coalesce(age_high_days, age_low_days) else 'infinity'::double "
        f"end as high from lives.lives where is_fitted and {where}").fetchnumpy()
    zero = np.zeros(rows["low"].size, int)
    return fit_strata(zero, rows["entry"], rows["low"], rows["high"], 1.0, 1)


def test_every_stay_of_the_file_becomes_a_life(loaded):
    assert one(loaded, "select count(*) from lives.lives") == 36_185
    assert one(loaded, "select count(*) from clean.service_points") == one(
        loaded, "select count(distinct service_point) from raw.service_points")
    skipped = dict(loaded.execute("select log, n_skipped from raw.loads").fetchall())
    assert skipped["installations"] == 1_158  # events of a unit that stayed where it was


def test_tags_keep_their_leading_zero(loaded):
    assert one(loaded, "select count(*) from lives.lives where hose_id not like '0%'") == 0
    assert one(loaded, "select count(distinct hose_id) from lives.lives") == 30_207


def test_only_removals_that_overlap_the_next_stay_are_refused(loaded):
    assert loaded.execute("select reason, count(*) from clean.refused group by reason").fetchall(
    ) == [("lies after the next installation at this place", 9)]


def test_rows_balance(loaded):
    for log in ("service_points", "installations", "replacements"):
        raw = one(loaded, f"select count(*) from raw.{log}")
        kept = one(loaded, f"select count(*) from clean.{log}")
        gone = one(loaded, f"select count(*) from clean.superseded where log = '{log}'")
        refused = one(loaded, "select count(*) from (select distinct load_id, entry_no, source_row "
                              f"from clean.refused where log = '{log}')")
        assert raw == kept + gone + refused


def test_life_until_any_removal_agrees_with_the_reference(loaded):
    """Shape 1.31444, characteristic life 1858.95 days on exact times (our own run of scipy).

    Here whole days, and the nine overlapping stays end a little earlier: within a few percent.
    """
    rows = loaded.execute(
        "select greatest(age_low_days - entry_age_days, 0.5) as low, "
        "case when is_open then 'infinity'::double else low end as high from lives.lives"
    ).fetchnumpy()
    found = fit_strata(np.zeros(36_185, int), 0.0, rows["low"], rows["high"], 1.0, 1)
    assert found.n_failures[0] == pytest.approx(17_548, abs=30)
    assert found.shape[0] == pytest.approx(1.31444, rel=0.03)
    assert found.characteristic_life[0] == pytest.approx(1858.95, rel=0.02)


def test_the_upper_cage_lives_shortest_as_published(loaded):
    lives = [
        fit(loaded, f"construction = 'old' and application_class = '{cage}'",
            "kind <> 'suspended'").characteristic_life[0] for cage in (0, 1, 2)
    ]
    assert lives[2] < lives[1] < lives[0]
