"""Sites whose logs come late, joined with others: the same figures as in one piece."""

import json
import shutil

import numpy as np
import pytest
from numpy.testing import assert_allclose

from etl.build.late_records import watched_lives
from etl.build.lives import curves_of
from etl.build.track.laws import Present
from etl.life.cell_law import CellLaw
from etl.life.frailty import rate_draws
from etl.life.reporting_delay import late_chances
from etl.scale.executors import Here
from etl.scale.folder import list_name
from etl.scale.partitions import read_list
from etl.scale.places import PlaceTask, class_laws, read_places
from etl.scale.work import fleet_results
from tests.scale.test_fleet import in_one_piece

LATE = [0.4, 0.7, 0.9, 1.0]


@pytest.fixture(scope="module")
def late_parts(parts, tmp_path_factory):
    """The fleet with one of its two sites late."""
    root = shutil.copytree(parts, tmp_path_factory.mktemp("late") / "parts")
    path = root / "sites" / list_name("site 001")
    path.write_text(json.dumps(json.loads(path.read_text()) | {"on_record": LATE}))
    return root


@pytest.fixture(scope="module")
def late(late_parts, settings):
    return fleet_results(read_list(str(late_parts)), Here(), settings)


def test_hoses_in_service_at_a_late_site_count_as_far_as_they_were_watched(late, expected):
    rows, lives = in_one_piece()
    # One place a hose in service, so that the hose on record can be told.
    is_open = rows["is_open"].to_numpy() & (rows["site"] == 1).to_numpy()
    place = np.where(is_open, np.cumsum(is_open), 0)
    cell, age = np.full(place.max() + 1, -1), np.zeros(place.max() + 1)
    cell[place[is_open]], age[place[is_open]] = lives.cell[is_open], lives.low[is_open]
    cut = watched_lives(type(lives)(**{**lives.__dict__, "place": place}), Present(cell, age),
                        np.array(LATE))
    for name in ("s0", "s1", "s2"):
        assert_allclose(getattr(late.law.cells.curves, name), getattr(curves_of(cut), name),
                        rtol=1e-11, err_msg=name)
    assert (late.law.cells.curves.s0 <= expected.law.cells.curves.s0).all()
    assert late.law.cells.totals.equals(expected.law.cells.totals)  # the record as it stands


def test_a_joined_fleet_tells_its_failures_not_on_record_yet(late, late_parts, settings, expected):
    laws, told = class_laws(late.law), 0.0
    for part in read_list(str(late_parts)).partitions:
        places = read_places(PlaceTask(part, laws[part.application_class]))
        law = laws[part.application_class]
        for cell in range(len(law.constructions)):
            mine, own = np.flatnonzero(places.cell == cell), law.cell == cell
            names = [f"{part.site}\x1f{places.names[place]}" for place in mine]
            rate = rate_draws(places.seen[mine], places.expected[mine], late.peers.concentration,
                              settings.n_draws, settings.seed + 1, names)
            told += late_chances(
                CellLaw(np.exp(law.log_shape[:, own]), law.log_life[:, own],
                        removal=law.removals[cell]),
                places.age[mine], rate, part.share)[1].mean(axis=1).sum()
    row = late.tables["fleet"].iloc[0]
    assert row["late_failures"] == pytest.approx(told, rel=1e-4)
    assert 0.0 <= row["late_failures_lower"] < row["late_failures"] < row["late_failures_upper"]
    shown = late.tables["fleet_partitions"].set_index("site")
    assert shown.loc["site 001", "months_until_on_record"].tolist() == [3, 3]
    assert shown.loc["site 000", "on_record_in_month"].tolist() == [1.0, 1.0]
    assert expected.tables["fleet"].iloc[0]["late_failures"] == 0.0


def test_the_late_site_is_forecast_lower_than_its_record_says_and_the_other_stays(late, expected):
    def year(results, site):
        frame = results.tables["forecast"]
        return frame[(frame["scope"] == "site") & (frame["scope_name"] == site)]["mean"].sum()

    far = year(late, "site 001") / year(expected, "site 001")
    near = year(late, "site 000") / year(expected, "site 000")
    assert far < near
