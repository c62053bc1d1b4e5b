"""Pairs of kinds: which are compared, and what is published of them."""

import numpy as np
import pytest
from scipy import stats

from etl.build import comparisons
from etl.build.lives import Lives
from tests.life.test_compare_groups import slow_log_rank


def cells(n_classes, n_constructions):
    """Return an empty fleet with a cell for every class and construction."""
    none = np.zeros(0)
    codes = np.arange(n_classes * n_constructions)
    return Lives(
        none.astype(int), none, none, none, none.astype(int), none.astype(int), none,
        codes // n_constructions, codes % n_constructions,
        tuple(f"class {i}" for i in range(n_classes)),
        tuple(f"hose {i}" for i in range(n_constructions)), (), ())


def test_every_pair_that_shares_class_or_construction_is_listed_once():
    pairs = comparisons.pairs_of(cells(3, 4), np.zeros(12))
    listed = set(zip(pairs.first.tolist(), pairs.second.tolist(), strict=True))
    wanted = {(a, b) for a in range(12) for b in range(a + 1, 12)
              if (a // 4 == b // 4) != (a % 4 == b % 4)}
    assert listed == wanted
    assert pairs.first.size == len(wanted)
    for a, b, block in zip(pairs.first, pairs.second, pairs.block, strict=True):
        assert block == (a // 4 if a // 4 == b // 4 else 3 + a % 4)


def test_work_grows_with_the_kinds_and_not_with_their_square():
    n_failures = np.arange(200.0)
    pairs = comparisons.pairs_of(cells(1, 200), n_failures)
    most = comparisons.MOST_PARTNERS
    assert pairs.first.size == most * (most - 1) // 2 + most * (200 - most)
    assert pairs.second.min() >= 200 - most


def test_a_comparison_turned_round_is_the_same_comparison(edition):
    n, worst, doubled, chances = edition.execute("""
        select count(*), max(abs(a.b10_ratio * b.b10_ratio - 1)),
            max(abs(a.b10_ratio_lower * b.b10_ratio_upper - 1)),
            max(abs(a.longer_b10_probability + b.longer_b10_probability - 1))
        from life_comparisons as a
        join life_comparisons as b
            on a.mechanism = b.mechanism
            and a.application_class = b.other_application_class
            and a.construction = b.other_construction
            and b.application_class = a.other_application_class
            and b.construction = a.other_construction
    """).fetchall()[0]
    assert n == edition.execute("select count(*) from life_comparisons").fetchall()[0][0] > 500
    assert max(worst, doubled, chances) < 1e-9


def test_ratios_of_joint_draws_agree_with_the_printed_lives(edition):
    """Medians of ratios and ratios of medians differ by less than either range."""
    row = edition.execute("""
        select max(abs(ln(c.b10_ratio * o.pooled_b10_days / f.pooled_b10_days))
            / ln(c.b10_ratio_upper / c.b10_ratio_lower))
        from life_comparisons as c
        join fits as f using (application_class, construction, mechanism)
        join fits as o on o.application_class = c.other_application_class
            and o.construction = c.other_construction and o.mechanism = c.mechanism
        where c.mechanism = 'all'
    """).fetchall()[0]
    assert row[0] < 0.25


@pytest.mark.parametrize("mechanism", ["all", "vib_fatigue"])
def test_log_rank_of_the_fleet_agrees_with_the_definition(edition, mechanism):
    pairs = edition.execute("""
        select application_class, construction, other_construction, log_rank_p_value
        from life_comparisons
        where mechanism = ? and application_class = other_application_class
            and construction < other_construction
        order by application_class, construction, other_construction limit 5
    """, [mechanism]).fetchall()
    assert len(pairs) == 5
    for name, one, two, p_value in pairs:
        rows = edition.execute("""
            select construction = ? as is_first, entry_age_days as entry,
                kind <> 'suspended' and (? = 'all' or mechanism = ?) as failed, case
                    when failed then (age_low_days + age_high_days) / 2 else age_low_days
                end as age
            from lives where is_fitted and application_class = ? and construction in (?, ?)
        """, [one, mechanism, mechanism, name, one, two]).fetchnumpy()
        statistic = slow_log_rank(
            *(np.asarray(rows[column]) for column in ("entry", "age", "failed", "is_first")))
        assert 2 * stats.norm.sf(abs(statistic)) == pytest.approx(p_value, rel=1e-9)
