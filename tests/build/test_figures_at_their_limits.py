"""Every figure of every log at the largest that is taken for true, all at once, still builds."""

import csv
import datetime as dt
import warnings

import duckdb
import pytest

from etl import run
from etl.load.columns import LOGS
from etl.load.publish import current_edition
from etl.load.typed_cells import MAY_BE_LARGE, largest

NUMERIC = ("number", "integer", "money")
LARGE = {name: "9007199254740992" for name in MAY_BE_LARGE}
PLACES = [f"P{n}" for n in range(8)]
END = dt.date(2025, 12, 31)


def filled(log, **cells):
    """A row of a log whose figures are all the largest."""
    most = {column.name: LARGE.get(column.name) or largest(column)
            for column in LOGS[log].columns if column.kind in NUMERIC}
    whole = {column.name: str(int(float(most[column.name]))) for column in LOGS[log].columns
             if column.kind == "integer"}
    return most | whole | cells


def hoses():
    """Three hoses a place, the second of which fails."""
    for n, place in enumerate(PLACES):
        for k, day in enumerate((dt.date(1950, 1, 1), dt.date(1999, 5, 1), dt.date(2020, 2, 1))):
            went = day + dt.timedelta(900 + 10 * n)
            yield place, f"0{n}{k}", f"00{k % 2}", day, went, "failed" if k else "planned"


def logs():
    stays = list(hoses())
    return {
        "service_points": [
            filled("service_points", service_point=place, application_class="steam", site="=1+1",
                   line="-L1", equipment="M1", medium="steam", hazards="hot",
                   records_from="1950-01-01") for place in PLACES],
        "constructions": [filled("constructions", construction=name) for name in ("A", "B")],
        "parts": [filled("parts", part_number=f"00{k}", construction="AB"[k]) for k in (0, 1)],
        "installations": [
            filled("installations", installed_on=day, service_point=place, hose_id=tag,
                   part_number=part) for place, tag, part, day, _, _ in stays],
        "replacements": [
            filled("replacements", removed_on=went, service_point=place, hose_id=tag, reason=why)
            for place, tag, _, _, went, why in stays],
        "inspections": [filled("inspections", inspected_on=went, service_point=place,
                               condition="good") for place, _, _, _, went, _ in stays],
        "teardowns": [{"examined_on": went, "hose_id": tag, "finding": "loc_end", "value": "1e308"}
                      for _, tag, _, _, went, _ in stays],
        "usage": [filled("usage", equipment="M1", read_on=day, clock=clock)
                  | ({} if n % 2 else {"reading": 0})
                  for clock in ("run_hours", "cycles")
                  for n, day in enumerate((dt.date(1950, 1, 1), dt.date(1999, 1, 1),
                                           dt.date(2010, 1, 1), END))],
        "stock": [filled("stock", part_number=f"00{k}", as_of=END, due_on="2026-03-01")
                  for k in (0, 1)],
        "trials": [filled("trials", trial="T1", service_point=place, arm="ab"[n % 2],
                          construction="AB"[n % 2], started_on="2015-01-01", pair=n // 2,
                          planned_end_on="2030-01-01") for n, place in enumerate(PLACES)],
    }


@pytest.fixture(scope="module")
def edition(tmp_path_factory):
    """The edition of such logs; a figure that leaves its range on the way is an error here."""
    folder = tmp_path_factory.mktemp("largest")
    for log, rows in logs().items():
        with (folder / f"{log}.csv").open("w", newline="") as out:
            writer = csv.DictWriter(out, list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        outcome = run.load(folder, folder / "store", as_of=str(END))
    assert outcome.n_refused == 0
    with duckdb.connect(str(current_edition(folder / "store")), read_only=True) as con:
        yield con


def test_costs_of_lost_production_are_whole(edition):
    """Three amounts of 1e12 and 1e6 hours at 1e12 an hour, for each hose taken out."""
    each = 3 * 10**12 + 10**6 * 10**12
    (cost,), = edition.execute("select sum(cost)::hugeint from history where scope = 'fleet'"
                               ).fetchall()
    assert cost == pytest.approx(3 * len(PLACES) * each, rel=1e-12)


def test_no_published_figure_is_endless(edition):
    figures = edition.execute(
        "select table_name, column_name from information_schema.columns"
        " where table_schema = 'main' and data_type in ('DOUBLE', 'FLOAT')").fetchall()
    assert len(figures) > 100
    endless = [(table, name) for table, name in figures if edition.execute(
        f'select bool_or(isinf("{name}") or isnan("{name}")) from "{table}"'
        ).fetchone() == (True,)]
    assert endless == []
