"""Survival without a law: which fits have it, and that it is the product limit of seen failures."""

import numpy as np
from numpy.testing import assert_allclose

from etl.build.free_survival import free_spans
from etl.build.standalone import Rows


def test_seen_failures_give_the_product_limit_and_others_a_span():
    """Fit 1: failures at 2 and 4, one suspended at 3. Fit 2: one of two found failed, 5 to 9."""
    low = np.array([4.0, 5.0, 2.0, 3.0, 9.0, 1.0])
    high = np.array([4.0, 9.0, 2.0, np.inf, np.inf, 1.0])
    rows = Rows(np.array([1, 2, 1, 1, 2, 0]), np.zeros(6), low, high, np.ones(6), 3)
    frame = free_spans(rows, np.array([False, True, True]))
    assert frame["fit"].tolist() == [1, 1, 2, 2]
    assert_allclose(frame["survival_after"][:2], [2 / 3, 0.0], atol=1e-9)
    assert frame.loc[2, ["start_days", "end_days"]].tolist() == [5.0, 9.0]
    assert np.isinf(frame["end_days"][3])
    assert_allclose(frame["failed_share"][2:], [0.5, 0.5], atol=1e-6)
    assert frame["is_settled"].all()
    assert free_spans(rows, np.zeros(3, bool)).empty


def test_fits_with_a_tenth_of_their_failures_found_have_it_and_no_others(edition):
    named = "application_class, construction, mechanism"
    wanted = edition.execute(
        f"select {named} from fits where n_intervals >= 0.1 * n_failures and n_intervals > 0 "
        "and n_failures >= 5 order by all"
    ).fetchall()
    found = edition.execute(f"select distinct {named} from free_survival order by all").fetchall()
    assert found == wanted
    assert len(wanted) > 3
