"""A forecast of an earlier month sees nothing that came, changed or happened later."""

import datetime as dt

import pytest

from etl.build.track.record import _origins
from etl.build.track.view import AS_KNOWN, RECONSTRUCTED, EventFile, known_then, origins_of
from etl.load import typing, warehouse
from etl.load.raw import load_raw
from etl.settings import Settings
from tests.build.track_fleet import arrive, new_store


def day(text):
    return dt.date.fromisoformat(text)


def file(number, known, last, loaded=None):
    return EventFile(number, day(known), day(loaded or known), str(number),
                     day(last) if last else None)


def seen(origins):
    return {origin.on.isoformat(): (origin.basis, [item.load_id for item in origin.files])
            for origin in origins}


def test_monthly_files_are_seen_from_the_day_they_came():
    files = [file(1, "2026-02-03", "2026-01-30"), file(2, "2026-03-02", "2026-02-27"),
             file(3, "2026-04-01", "2026-03-31")]
    assert seen(origins_of(files, day("2026-03-31"), 2, 10)) == {
        "2026-01-31": (AS_KNOWN, [1]), "2026-02-28": (AS_KNOWN, [1, 2])}


def test_a_month_whose_logs_came_late_is_reconstructed_from_the_first_that_reach_it():
    files = [file(1, "2026-01-05", "2025-12-30"), file(2, "2026-05-02", "2026-04-30"),
             file(3, "2026-06-01", "2026-05-31")]
    found = seen(origins_of(files, day("2026-05-31"), 3, 10))
    assert found["2026-02-28"] == (RECONSTRUCTED, [1, 2])
    assert found["2026-04-30"] == (AS_KNOWN, [1, 2])


def test_later_files_do_not_change_what_a_reconstructed_month_sees():
    first = [file(1, "2026-05-02", "2026-04-30"), file(2, "2026-05-04", None)]
    more = [*first, file(3, "2026-06-01", "2026-05-31"), file(4, "2026-07-01", "2026-06-30")]
    early = seen(origins_of(first, day("2026-04-30"), 2, 10))
    late = seen(origins_of(more, day("2026-06-30"), 4, 10))
    assert early["2026-02-28"] == late["2026-02-28"] == (RECONSTRUCTED, [1, 2])


def test_a_month_that_no_file_reaches_is_left_out():
    files = [file(1, "2026-01-31", "2026-01-20")]
    assert list(seen(origins_of(files, day("2026-04-30"), 3, 10))) == ["2026-01-31"]


REGISTER = "service_point,application_class\nA,loop\nB,loop\n"
FIRST = {
    "service_points.csv": REGISTER,
    "installations.csv": "installed_on,service_point,hose_id,construction\n"
    "2025-01-01,A,a1,C\n2025-01-01,B,b1,C\n",
    "replacements_jan.csv": "removed_on,service_point,hose_id,reason\n2026-01-10,A,a1,planned\n",
}
SECOND = {
    "replacements_feb.csv": "removed_on,service_point,hose_id,reason\n"
    "2026-01-10,A,a1,failed\n2026-01-20,B,b1,failed\n2026-02-20,B,b2,failed\n",
    "installations_feb.csv": "installed_on,service_point,hose_id,construction\n"
    "2026-01-20,B,b2,C\n2026-02-20,B,b3,C\n",
}


@pytest.fixture
def work(tmp_path):
    store = new_store(tmp_path / "store")
    for name, batch, on in (("one", FIRST, "2026-02-01"), ("two", SECOND, "2026-03-01")):
        folder = tmp_path / name
        folder.mkdir()
        for file_name, text in batch.items():
            (folder / file_name).write_text(text, encoding="utf-8")
        arrive(store, folder, day(on))
    con = warehouse.connect()
    groups = load_raw(con, store)
    as_of = typing.build_clean(con, groups, day("2026-03-31"))
    typing.build_lives(con, as_of)
    yield con, groups, store, as_of
    con.close()


def removals(con):
    return con.execute("select hose_id, removed_on::varchar, removal_reason from lives.stays "
                       "where removed_on is not null order by hose_id").fetchall()


def test_rows_loaded_later_corrected_later_or_happened_later_are_not_seen(work):
    con, groups, store, as_of = work
    now = removals(con)
    assert now == [("a1", "2026-01-10", "failed"), ("b1", "2026-01-20", "failed"),
                   ("b2", "2026-02-20", "failed")]
    origins = {origin.on.isoformat(): origin for origin in _origins(con, store, as_of, Settings())}
    january, february = origins["2026-01-31"], origins["2026-02-28"]
    assert (january.basis, february.basis) == (AS_KNOWN, AS_KNOWN)
    with known_then(con, groups, january, ()):
        assert removals(con) == [("a1", "2026-01-10", "planned")]
        assert con.execute("select max(age_days) from lives.in_service").fetchall() == [(395.0,)]
    with known_then(con, groups, february, ()):
        assert removals(con) == now
    assert removals(con) == now  # the tables of today are back, untouched


def test_cutting_by_the_day_of_the_event_alone_would_have_seen_them(work):
    con, groups, _, _ = work
    typing.build_clean(con, groups, day("2026-01-31"))
    typing.build_lives(con, day("2026-01-31"))
    assert removals(con) == [("a1", "2026-01-10", "failed"), ("b1", "2026-01-20", "failed")]


def test_today_is_put_back_when_a_forecast_fails(work):
    con, groups, store, as_of = work
    origin = _origins(con, store, as_of, Settings())[-1]
    with pytest.raises(RuntimeError, match="stopped"), known_then(con, groups, origin, ()):
        raise RuntimeError("stopped")
    assert len(removals(con)) == 3
