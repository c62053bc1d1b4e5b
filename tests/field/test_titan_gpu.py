"""Lives of graphics processors by position in a supercomputer.

Source: repository olcf/TitanGPULife, data/gc_full.csv and gc_summary_loc.csv; Ostrouchov,
Maxwell, Ashraf, Engelmann, Shankar and Rogers, "GPU Lifetimes on Titan Supercomputer: Survival
Analysis and Reliability", SC20 (2020). Counts are facts of the file, found by reading it.
"""

import csv
import datetime as dt

import numpy as np
import pytest

from etl.fit_file import fit_table
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


@pytest.mark.parametrize(("batch", "cage", "n_failures", "n_units", "shape", "life"), [
    ("old", None, 5_027, 18_837, 2.63845, 2596.05), ("old", 0, 1_107, 6_240, 3.90523, 3001.79),
    ("old", 1, 1_746, 6_275, 3.21584, 2307.72), ("old", 2, 2_174, 6_322, 3.99270, 1525.93),
    ("new", None, 62, 11_370, 1.02108, 133_024)])
def test_lives_of_units_give_the_reference_fits(
    field_data, batch, cage, n_failures, n_units, shape, life
):
    """By batch and cage, from the file of one row a unit: our own runs of scipy, two of lifelines.

    Of the new batch so few failed that its characteristic life is a hundred times its longest.
    """
    with (field_data / DATA_SET / FILES[1]).open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file)
                if row["batch"] == batch and cage in (None, int(row["cage"]))]
    [found] = fit_table({"time": [row["days"] for row in rows],
                         "kind": ["failed" if row["dead"] == "TRUE" else "suspended"
                                  for row in rows]})["groups"]
    assert (found["failures"], found["failures"] + found["suspensions"]) == (n_failures, n_units)
    assert found["shape"]["estimate"] == pytest.approx(shape, rel=1e-5)
    assert found["characteristic_life"]["estimate"] == pytest.approx(life, rel=1e-5)


def test_a_stay_lasts_whole_days_whatever_the_clocks_did(loaded, field_data):
    """16,944 stays are an hour longer or shorter by the clock on the wall than they lasted.

    Days are counted from day to day, so that a changed clock moves no age.
    """
    def moment(cell):
        return dt.datetime.fromisoformat(cell)

    with (field_data / DATA_SET / FILES[0]).open(encoding="utf-8", newline="") as file:
        stays = [(moment(row["insert"]), moment(row["remove"]), int(row["duration"]))
                 for row in csv.DictReader(file) if row["insert"]]
    off = [(end - start).total_seconds() - lasted for start, end, lasted in stays]
    assert (len(off), sum(abs(seconds) == 3_600 for seconds in off)) == (36_185, 16_944)
    refused = one(loaded, "select count(*) from clean.impossible")
    differing = sum(abs((end.date() - start.date()).days - lasted / 86_400) >= 1 + 1 / 24
                    for start, end, lasted in stays)
    assert (differing, refused) == (0, 9)


def test_the_upper_cage_lives_shortest_as_published(loaded):
    lives = [
        fit(loaded, f"construction = 'old' and application_class = '{cage}'",
            "kind <> 'suspended'").characteristic_life[0] for cage in (0, 1, 2)
    ]
    assert lives[2] < lives[1] < lives[0]
