"""Vehicles by day of registration and of repair; most of those not repaired lack the former.

Source: package weibulltools 2.1.0 (GPL-2), data set field_data, which calls it an illustrative
field data set; the analysis date is stated there. Counts are facts of the file.
"""

import datetime as dt

import numpy as np
import pytest

from etl.life.fit import fit_strata

pytestmark = pytest.mark.field
DATA_SET = "automotive_field_data"
FILES = ("field_data.csv",)
AS_OF = dt.date(2015, 12, 31)


def test_rows_without_a_day_are_refused_not_dated(loaded):
    found = loaded.execute(
        "select log, column_name, reason, count(*) from clean.refused group by all order by all"
    ).fetchall()
    assert found == [("installations", "installed_on", "is not a date", 9_140)]


def test_registered_vehicles_give_the_reference_fit(loaded):
    """Shape 2.28197, characteristic life 679.6 days: our own run of scipy on days in service.

    A warning, too: leaving out rows without a day shortens the life by a factor 3.7, so the page
    Data health counts them.
    """
    rows = loaded.execute(
        "select age_low_days as low, coalesce(age_high_days, 'infinity'::double) as high "
        "from lives.lives where is_fitted").fetchnumpy()
    found = fit_strata(np.zeros(rows["low"].size, int), 0.0, rows["low"], rows["high"], 1.0, 1)
    assert rows["low"].size == pytest.approx(1_544, abs=2)
    assert found.n_failures[0] + found.n_intervals[0] == 684
    assert found.shape[0] == pytest.approx(2.28197, rel=0.02)
    assert found.characteristic_life[0] == pytest.approx(679.6, rel=0.02)
