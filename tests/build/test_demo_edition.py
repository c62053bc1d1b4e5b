"""The published tables of the invented fleet, whose truth is known."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from etl.demo import generator


@pytest.fixture(scope="module")
def truth(tmp_path_factory):
    return generator().make_fleet(tmp_path_factory.mktemp("truth"))


def one(con, query):
    return con.execute(query).fetchall()[0][0]


REFUSED = {
    "ambiguous_date", "conflict", "date_before_1950", "future_date", "missing_date",
    "negative_cost", "removal_before_installation",
    "seen_good_before_installation", "unknown_service_point", "unknown_word",
}


def test_every_planted_bad_row_is_refused_and_nothing_else(edition, truth):
    planted = {}
    for row in truth["planted_rows"]:
        if row["kind"] in REFUSED:
            planted[row["file"]] = planted.get(row["file"], 0) + row["n_rows"]
    found = dict(edition.execute(
        "select source_file, sum(n_refused)::integer from loads group by source_file "
        "having sum(n_refused) > 0").fetchall())
    assert found == planted
    assert one(edition, "select n_refused from edition") == sum(planted.values())


def test_every_planted_number_not_readable_is_left_out_of_a_row_that_stays(edition, truth):
    planted = sum(row["n_rows"] for row in truth["planted_rows"]
                  if row["kind"] == "number_not_readable")
    assert planted == one(
        edition, "select sum(n_cells) from corrections "
                 "where what like 'cells left out%' and column_name = 'downtime_h'")


@pytest.mark.parametrize(
    "place", ["HD-2 discharge A", "HD-2 discharge B", "VAC-7 pump head", "LN-21 fill"])
def test_planted_places_are_called_failure_prone(edition, place):
    row = edition.execute(
        "select is_failure_prone, relative_rate_lower from ranking where service_point = ?", [place]
    ).fetchall()[0]
    assert row[0]
    assert row[1] > 1.0


def test_false_flags_stay_within_the_stated_share(edition, truth):
    flagged = [row[0] for row in edition.execute(
        "select service_point from ranking where is_failure_prone").fetchall()]
    planted = {item["service_point"] for item in truth["planted_places"]}
    in_trial = {row[0] for row in edition.execute("select service_point from trials").fetchall()}
    rates = truth["relative_rates"]
    false = [place for place in flagged
             if place not in planted | in_trial and rates[place] < 1.5]
    assert len(flagged) >= 8
    assert len(false) <= 0.25 * len(flagged)


def test_every_life_leads_back_to_the_rows_it_came_from(edition):
    assert one(edition, """
        select count(*) from lives as l
        left join log_rows as r on r.service_point = l.service_point and r.log = 'installations'
            and r.source_file = l.installation_file and r.source_row = l.installation_row
        where r.fate is distinct from 'used'
    """) == 0
    assert one(edition, """
        select count(*) from lives as l
        left join log_rows as r on r.service_point = l.service_point and r.log = 'replacements'
            and r.source_file = l.removal_file and r.source_row = l.removal_row
        where l.removal_row is not null and r.fate is distinct from 'used'
    """) == 0


def test_the_problem_line_heads_the_ranking_and_is_offered_a_trial(edition):
    assert one(edition, "select line || ' ' || site from ranking join service_points "
                        "using (service_point) where rank = 1") == "line 2 Corriemoor"
    assert one(edition, "select count(*) from trial_candidates "
                        "where service_point like 'HD-2 %'") >= 1


def test_no_hazardous_trial_goes_without_its_caution(edition):
    assert one(edition, """
        select count(*) from trial_candidates join service_points using (service_point)
        where len(hazards) > 0 and cautions not like '%management of change%'
    """) == 0


def test_fits_of_all_mechanisms_count_what_their_mechanisms_count(edition):
    assert one(edition, """
        with summed as (
            select application_class, construction,
                sum(n_failures) filter (where mechanism <> 'all') as by_mechanism,
                max(n_failures) filter (where mechanism = 'all') as together,
                max(n_unknown) filter (where mechanism = 'all') as n_unknown
            from fits group by application_class, construction
        )
        select count(*) from summed where together <> by_mechanism + n_unknown
    """) == 0


def test_a_year_of_fleet_forecasts_adds_up_over_sites(edition):
    total, by_site = edition.execute("""
        select sum(mean) filter (where scope = 'fleet'), sum(mean) filter (where scope = 'site')
        from forecast
    """).fetchall()[0]
    assert by_site == pytest.approx(total, rel=1e-6)
    places = one(edition, "select sum(expected_failures) from ranking")
    assert places == pytest.approx(total, rel=1e-4)


def test_the_cost_curve_is_the_running_share_of_the_dearest(edition):
    cost = np.sort(edition.execute("select expected_cost from ranking where expected_cost > 0")
                   .fetchnumpy()["expected_cost"])[::-1]
    found = edition.execute("select * from cost_curve order by n_places").fetchnumpy()
    assert found["n_places"].tolist() == list(range(1, cost.size + 1))
    assert_allclose(found["share_of_cost"], np.cumsum(cost) / cost.sum(), rtol=1e-9)
