"""Water mains and their breaks: records that begin a century after the first pipe.

Source: open data of the City of Kitchener as copied in the repositories
js3lliott/water-main-break-prediction-KW, data/raw, and Stanoffuh/Waterbreaks (another export).
Counts are facts of the files: a break closes the life of its pipe, and nothing is known to have
been laid in its place.
"""

import csv
import datetime as dt

import numpy as np
import pytest

from etl.life.fit import fit_strata
from tests.field.conftest import fitted, gathered, layers

pytestmark = pytest.mark.field
DATA_SET = "kitchener_water_mains"
FILES = ("Water_Mains.csv", "Water_Main_Breaks.csv")
AS_OF = dt.date(2023, 1, 9)
"""Day of the last break."""
START = dt.date(2000, 1, 1)
YEAR = 365.25


def day(cell):
    return dt.date(*map(int, cell[:10].split("/"))) if cell else None


@pytest.fixture(scope="module")
def pipes(field_data):
    """Day laid, material and days of breaks of every pipe, read by another way than ours."""
    def rows(name):
        with (field_data / DATA_SET / name).open(encoding="utf-8-sig", newline="") as file:
            yield from csv.DictReader(file)

    found = {row["WATMAINID"]: (day(row["INSTALLATION_DATE"]), row["MATERIAL"], [])
             for row in rows(FILES[0])}
    for row in rows(FILES[1]):
        if row["BREAK_TYPE"] == "MAIN" and row["ASSETID"] in found:
            found[row["ASSETID"]][2].append(day(row["INCIDENT_DATE"]))
    return list(found.values())


def expected(pipes, is_taken=lambda laid, breaks: True, material=None, *, is_late=True):
    """Fit the first break since the records began, by pipe, in years."""
    lives = []
    for laid, made_of, all_breaks in pipes:
        breaks = sorted(day for day in all_breaks if laid and day >= laid)
        if laid and material in (None, made_of) and is_taken(laid, breaks):
            broken = next((day for day in breaks if day >= START), None)
            lives.append(((max(START, laid) - laid).days, ((broken or AS_OF) - laid).days,
                          broken is not None))
    entry, end, is_broken = map(np.array, zip(*lives, strict=True))
    seen = end > entry
    late = entry[seen] / YEAR if is_late else 0.0
    return fit_strata(np.zeros(seen.sum(), int), late, end[seen] / YEAR,
                      np.where(is_broken, end / YEAR, np.inf)[seen], 1.0, 1)


@pytest.mark.parametrize(("material", "is_late", "n_failures", "shape", "life"), [
    (None, True, 959, 2.41898, 106.748), (None, False, 959, 2.81274, 111.409),
    ("DI", True, 306, 2.70609, 114.531), ("DI", False, 306, 3.54006, 98.2966),
    ("PVC", True, 36, 0.97921, 3037.17),
])
def test_fits_of_the_whole_file_agree_with_another_library(
    pipes, material, is_late, n_failures, shape, life
):
    """Shape and life in years by lifelines with entry ages, run on first breaks since 2000.

    There with the time of day, here with whole days.
    """
    found = expected(pipes, material=material, is_late=is_late)
    assert found.n_failures[0] == n_failures
    assert found.shape[0] == pytest.approx(shape, rel=2e-4)
    assert found.characteristic_life[0] == pytest.approx(life, rel=1e-3)


@pytest.mark.parametrize("is_late", [True, False])
def test_fits_of_the_loaded_pipes_agree_with_the_other_way_of_reading(loaded, pipes, is_late):
    """Pipes laid before 1950 are refused, and those that broke before the records are left out."""
    def is_loaded(laid, breaks):
        return laid.year >= 1950 and not any(day < START for day in breaks)

    for material in (None, "DI"):
        ours = fitted(loaded, f"construction = '{material}'" if material else "true",
                      is_late=is_late)
        other = expected(pipes, is_loaded, material, is_late=is_late)
        assert ours.n_failures[0] == other.n_failures[0]
        assert ours.shape[0] == pytest.approx(other.shape[0], rel=1e-3)
        assert ours.characteristic_life[0] / YEAR == pytest.approx(
            other.characteristic_life[0], rel=1e-3)


def test_rows_that_cannot_be_right_are_refused_by_reason(loaded):
    assert dict(loaded.execute(
        "select reason, count(*) from clean.refused group by reason").fetchall()) == {
            "is no known service point": 397, "lies before 1950": 407, "is empty": 135,
            "lies after the data date": 7}


def test_every_pipe_with_a_usable_day_becomes_a_life(loaded):
    n_refused = 407 + 135 + 7
    assert loaded.execute("select count(*) from lives.stays").fetchall() == [(15_903 - n_refused,)]
    assert loaded.execute(
        "select count(*) from lives.lives where kind <> 'suspended'").fetchall() == [(950,)]


def test_cast_iron_has_no_finite_estimate(loaded, pipes):
    """Replaced pipes left the register, so the likelihood rises to the edge, or nearly so."""
    found = expected(pipes, material="CI")
    assert found.n_failures[0] == 595
    assert [str(status) for status in found.status] == ["no_finite_estimate"]
    assert fitted(loaded, "construction = 'CI'").shape[0] < 0.1


def test_materials_hardly_failing_are_marked(loaded):
    assert str(fitted(loaded, "construction = 'PVCO'").status[0]) == "few_failures"
    assert str(fitted(loaded, "construction = 'PVCB'").status[0]) == "no_failures"


def test_two_programs_export_the_same_days(loaded, field_data, tmp_path_factory):
    """Of 2,712 breaks in both, 2,678 are of mains in both; ten lost their time, none its day."""
    folder = gathered(tmp_path_factory.mktemp("other"), field_data / DATA_SET,
                      ("Water_Mains_us_dates.csv", "Water_Main_Breaks_us_dates.csv"),
                      f"{DATA_SET}/other_export")
    days = "select trim(row_id), removed_on from clean.replacements_cells where row_id is not null"
    ours = dict(loaded.execute(days).fetchall())
    with layers(folder, tmp_path_factory.mktemp("store")) as con:
        other = dict(con.execute(days).fetchall())
    assert len(ours.keys() & other.keys()) == 2_678
    assert {name for name in ours.keys() & other.keys() if ours[name] != other[name]} == set()
