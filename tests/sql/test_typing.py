"""Cells of text become typed cells, or keep their row out with a reason."""

from __future__ import annotations

from decimal import Decimal

import pytest

from etl.errors import CheckError, InputError
from etl.load.columns import LOGS
from etl.load.data_day import default_as_of
from etl.load.mapping import TypingOptions
from etl.load.typing import build_clean, build_lives
from etl.load.warehouse import connect
from tests.sql.tiny import AS_OF, ONE_PLACE, build, day, left_out, raw_logs, refused, rows

REMOVED = "removed_on,service_point,reason\n"


def removal(cells: str, columns: str = "part_cost", options: TypingOptions | None = None):
    text = f"removed_on,service_point,reason,{columns}\n2020-01-01,P1,failed,{cells}"
    return build(service_points=ONE_PLACE, replacements=text, options=options)


def dated(cell: str, options: TypingOptions | None = None):
    return build(service_points=ONE_PLACE, options=options,
                 installations=f"installed_on,service_point\n{cell},P1")


@pytest.mark.parametrize(("cell", "options", "expected"), [
    pytest.param("2020-02-29", None, "2020-02-29", id="ISO"),
    pytest.param(" 2020-02-29 ", None, "2020-02-29", id="blanks around it"),
    pytest.param("2020-02-29T10:15:00Z", None, "2020-02-29", id="time of day cut off"),
    pytest.param("29.02.2020", TypingOptions(("%d.%m.%Y",)), "2020-02-29", id="declared format"),
    pytest.param("2020-02-29", TypingOptions(("%d.%m.%Y",)), "2020-02-29", id="ISO always read"),
    pytest.param("3.2.20", TypingOptions(("%d.%m.%y",)), "2020-02-03", id="this century"),
    pytest.param("3.2.70", TypingOptions(("%d.%m.%y",)), "1970-02-03", id="last century"),
    pytest.param("29.02.00", TypingOptions(("%d.%m.%y",)), "2000-02-29", id="two digits, leap day"),
    pytest.param("04/13/2020", TypingOptions(("%d/%m/%Y", "%m/%d/%Y")), "2020-04-13",
                 id="two formats, one fits"),
])
def test_date_is_read_as_declared(cell, options, expected):
    con = dated(cell, options)
    assert rows(con, "select installed_on from clean.installations") == [(day(expected),)]


@pytest.mark.parametrize(("cell", "options", "reason"), [
    pytest.param("03/04/2020", None, "is not a date", id="format not declared"),
    pytest.param("03.04.20", TypingOptions(("%d.%m.%Y",)), "is not a date", id="two-digit year"),
    pytest.param("03/04/2020", TypingOptions(("%d/%m/%Y", "%m/%d/%Y")), "is not a date",
                 id="two formats disagree"),
    pytest.param("2020-02-30", None, "is not a date", id="no such day"),
    pytest.param("2020/01/05", None, "is not a date", id="slashes"),
    pytest.param("2020-1-5", None, "is not a date", id="one digit"),
    pytest.param("infinity", None, "is not a date", id="word that the database knows"),
    pytest.param("epoch", None, "is not a date", id="another such word"),
    pytest.param("1900-01-01", None, "lies before 1950", id="before 1950"),
    pytest.param("9999-12-31", None, "lies after 2199", id="far future"),
    pytest.param("2025-01-02", None, "lies after the data date", id="after the data date"),
    pytest.param("", None, "is empty", id="empty"),
])
def test_date_that_cannot_be_used_is_refused(cell, options, reason):
    expected = ("installations", 2, "installed_on", cell or None, reason)
    assert refused(dated(cell, options)) == [expected]


def test_declared_no_date_is_an_empty_cell():
    con = build(
        service_points="service_point,application_class,retired_on\nP1,steam,9999-12-31",
        options=TypingOptions(no_date=("9999-12-31",)))
    assert rows(con, "select service_point, retired_on from clean.service_points") == [("P1", None)]


@pytest.mark.parametrize(("cell", "form"), [
    ("9999-12-31", None), ("1899-12-30", None), ("1900-01-00", None), ("0001-01-01", None),
    ("9999-12-31 00:00:00", None), ("9999-12-31T00:00:00", None), ("31.12.9999", "%d.%m.%Y"),
    ("12/30/1899", "%m/%d/%Y"), ("1/1/1900", "%m/%d/%Y"), ("31-Dec-9999", "%d-%b-%Y"),
    ("31.12.2999 00:00", "%d.%m.%Y %H:%M"), (" 0000-00-00 ", None),
])
def test_the_end_of_a_calendar_stands_for_no_day_where_none_is_required(cell, form):
    con = build(
        service_points=f"service_point,application_class,retired_on,records_from\n"
                       f"P1,steam,{cell},{cell}",
        options=TypingOptions((form,)) if form else None, as_of=day("2025-01-01"))
    assert refused(con) == []
    assert rows(con, "select retired_on, records_from from clean.service_points") == [(None, None)]
    assert rows(con, "select column_name, what, n_cells, example from raw.corrections") == [
        (name, "days that stand for none read as empty", 1, cell.strip())
        for name in ("records_from", "retired_on")]


@pytest.mark.parametrize("cell", ["1899-12-29", "9998-12-31", "99-12-31", "1950-01-00"])
def test_another_odd_day_is_no_end_of_a_calendar(cell):
    con = build(service_points=f"service_point,application_class,retired_on\nP1,steam,{cell}",
                as_of=day("2025-01-01"))
    assert [row[2:4] for row in refused(con)] == [("retired_on", cell)]
    assert rows(con, "from raw.corrections") == []


@pytest.mark.parametrize(("cell", "options", "expected"), [
    pytest.param("12.5", None, "12.50", id="point"),
    pytest.param("1.234,50", TypingOptions(decimal=",", thousands="."), "1234.50", id="comma"),
    pytest.param("1234,5", TypingOptions(decimal=",", thousands="."), "1234.50", id="not grouped"),
    pytest.param("1'234'567.5", TypingOptions(thousands="'"), "1234567.50", id="apostrophes"),
])
def test_amount_is_read_as_declared(cell, options, expected):
    con = removal(f'"{cell}"', options=options)
    assert rows(con, "select part_cost from clean.replacements") == [(Decimal(expected),)]


@pytest.mark.parametrize(("cell", "options"), [
    pytest.param("1,5", None, id="comma not declared"),
    pytest.param("1.5", TypingOptions(decimal=",", thousands="."), id="point where thousands are"),
    pytest.param("1_000", None, id="underscore"), pytest.param("inf", None, id="infinite"),
    pytest.param("nan", None, id="not a number"), pytest.param("5%", None, id="percent"),
    pytest.param("0x1F", None, id="hexadecimal"), pytest.param("1 000", None, id="blank inside"),
])
def test_amount_that_cannot_be_read_is_left_out_of_its_row(cell, options):
    con = removal(f'"{cell}"', options=options)
    assert left_out(con) == [("replacements", 2, "part_cost", cell, "is not an amount")]
    assert refused(con) == []
    assert rows(con, "select reason, part_cost from clean.replacements") == [("failed", None)]


def test_number_too_large_to_hold_is_left_out_of_its_row():
    assert left_out(removal("1e400", "downtime_h")) == [
        ("replacements", 2, "downtime_h", "1e400", "is not a number")]


def with_wide_numbers(log):
    """Return a log of one row whose numbers that may be missing are absurd, and their names."""
    wide = [column.name for column in log.columns
            if column.kind in ("number", "integer", "money") and not column.is_required
            and column.name != "coin_seed"]
    good = {"date": "2020-01-01", "tag": "P1", "text": "steam", "number": "1"}
    cells = [(log.column(name).words or (good.get(log.column(name).kind),))[0]
             for name in log.required]
    return f"{','.join([*log.required, *wide])}\n{','.join([*cells, *['1e30'] * len(wide)])}", wide


def test_no_number_can_be_so_large_that_a_later_step_stops_at_it():
    """A lead time of 1e12 days once asked for 48 GiB; a reading of 1e20 fitted no decimal."""
    made = {log.name: with_wide_numbers(log) for log in LOGS.values()}
    con = connect()
    raw_logs(con, {name: text for name, (text, _) in made.items()})
    build_clean(con, {1: TypingOptions()}, AS_OF)
    told = set(rows(con, "select log, column_name from clean.cell_faults union all "
                         "select log, column_name from clean.row_faults"))
    assert {(name, column) for name, (_, wide) in made.items() for column in wide} <= told


@pytest.mark.parametrize(("cell", "is_kept"), [("100000", True), ("100001", False)])
def test_a_span_of_days_has_a_limit(cell, is_kept):
    con = build(parts=f"part_number,construction,lead_time_days\nN1,C1,{cell}")
    assert (left_out(con) == []) is is_kept
    assert rows(con, "select lead_time_days from clean.parts") == [
        (float(cell) if is_kept else None,)]


@pytest.mark.parametrize("column", ["part_cost", "labour_cost", "other_cost", "downtime_h"])
def test_negative_cost_is_refused(column):
    assert refused(removal("-1", column)) == [("replacements", 2, column, "-1", "is negative")]


@pytest.mark.parametrize(("unit", "column", "cell", "expected"), [
    pytest.param("psi", "pressure_bar", "100", 6.894757293168361, id="pound per square inch"),
    pytest.param("degF", "temperature_c", "212", 100.0, id="Fahrenheit"),
    pytest.param("in", "live_length_mm", "10", 254.0, id="inch"),
])
def test_declared_unit_is_turned_into_ours(unit, column, cell, expected):
    con = build(service_points=f"service_point,application_class,{column}\nP1,steam,{cell}",
                options=TypingOptions(units={column: unit}))
    (value,), = rows(con, f"select {column} from clean.service_points")
    assert value == pytest.approx(expected, rel=1e-12)


def test_unit_that_does_not_fit_is_an_input_error():
    with pytest.raises(InputError, match="unit 'kg' cannot be turned into 'bar'"):
        build(service_points=ONE_PLACE, options=TypingOptions(units={"pressure_bar": "kg"}))


def test_words_are_read_in_any_case_and_as_declared():
    text = (REMOVED + "2020-01-01,P1,FAILED\n2020-01-02,P1,Leak\n2020-01-03,P1,BRKDN")
    con = build(service_points=ONE_PLACE, replacements=text,
                options=TypingOptions(words={"reason": {"BRKDN": "found_failed"}}))
    assert rows(con, "select reason from clean.replacements order by removed_on") == [
        ("failed",), ("failed",), ("found_failed",)]


def test_empty_cell_can_have_a_declared_meaning():
    con = build(service_points=ONE_PLACE, replacements=REMOVED + "2020-01-01,P1,",
                options=TypingOptions(words={"reason": {"": "unknown"}}))
    assert rows(con, "select reason from clean.replacements") == [("unknown",)]


def test_unknown_word_is_refused_with_the_known_ones():
    con = build(service_points=ONE_PLACE, replacements=REMOVED + "2020-01-01,P1,odd")
    assert refused(con) == [("replacements", 2, "reason", "odd", "is not one of the known words")]
    (remedy,), = rows(con, "select remedy from clean.refused")
    assert "found_failed" in remedy


@pytest.mark.parametrize(("declared", "message"), [
    pytest.param({"A": "broken"}, "'broken', which is not one of", id="meaning not in the list"),
    pytest.param({"A": "failed", "a": "planned"}, "'a' two meanings", id="two meanings"),
])
def test_declared_words_that_cannot_be_used_are_an_input_error(declared, message):
    with pytest.raises(InputError, match=message):
        removal("1", options=TypingOptions(words={"reason": declared}))


@pytest.mark.parametrize(("cell", "expected"), [
    pytest.param("pressure; hot", ["hot", "pressure"], id="sorted"),
    pytest.param("Hot|hot", ["hot"], id="once"), pytest.param("none", [], id="none"),
    pytest.param("", None, id="empty"),
])
def test_several_words_in_a_cell(cell, expected):
    con = build(service_points=f"service_point,application_class,hazards\nP1,steam,{cell}")
    assert rows(con, "select hazards from clean.service_points") == [(expected,)]


def test_one_unknown_word_among_several_is_refused():
    con = build(service_points="service_point,application_class,hazards\nP1,steam,hot;wet")
    assert refused(con) == [
        ("service_points", 2, "hazards", "hot;wet", "is not one of the known words")]


@pytest.mark.parametrize(("cell", "expected"), [
    ("yes", True), ("N", False), ("TRUE", True), ("0", False), ("x", True), ("", None)])
def test_yes_and_no(cell, expected):
    con = removal(cell, "planned")
    assert rows(con, "select planned from clean.replacements") == [(expected,)]


def test_tag_keeps_its_zeros_and_inner_blanks_and_loses_outer_ones():
    con = build(service_points=ONE_PLACE, installations=
                "installed_on,service_point,hose_id\n2020-01-01,P1,\u00a0\t00 12\u00a0")
    assert rows(con, "select hose_id from clean.installations") == [("00 12",)]


def test_mechanism_by_name_or_by_word_is_one_mechanism():
    text = ("removed_on,service_point,reason,mechanism\n2020-01-01,P1,failed,Braid wear on the "
            "corrugation crests\n2020-01-02,P1,failed,BRAID_WEAR\n2020-01-03,P1,failed,our own")
    con = build(service_points=ONE_PLACE, replacements=text)
    assert rows(con, "select mechanism from clean.replacements order by removed_on") == [
        ("braid_wear",), ("braid_wear",), ("our own",)]


def test_every_fault_of_a_row_is_listed():
    con = build(service_points=ONE_PLACE, replacements=
                "removed_on,service_point,reason,part_cost\nsoon,P9,odd,-1")
    assert refused(con) == [
        ("replacements", 2, "part_cost", "-1", "is negative"),
        ("replacements", 2, "reason", "odd", "is not one of the known words"),
        ("replacements", 2, "removed_on", "soon", "is not a date"),
        ("replacements", 2, "service_point", "P9", "is no known service point")]


def test_files_written_differently_are_each_read_their_own_way():
    con = connect(threads=1)
    raw_logs(con, {"service_points": ONE_PLACE, "installations": [
        "installed_on,service_point\n03/04/2020,P1", "installed_on,service_point\n03/04/2020,P1"]},
        [{}, {"typing_group": 1}, {"typing_group": 2}])
    build_clean(con, {1: TypingOptions(("%d/%m/%Y",)), 2: TypingOptions(("%m/%d/%Y",))}, AS_OF)
    assert rows(con, "select load_id, installed_on from clean.installations order by load_id") == [
        (2, day("2020-04-03")), (3, day("2020-03-04"))]


def test_data_date_by_default_is_the_latest_believable_day():
    con = build(None, service_points=ONE_PLACE, loads=[{}, {"exported_on": "2024-12-31"}],
                installations="installed_on,service_point,hose_id\n2020-01-01,P1,A\n"
                              "2024-06-01,P1,B\n2094-06-01,P1,C")
    assert rows(con, "select as_of from clean.data_date") == [(day("2024-06-01"),)]
    assert default_as_of(con) == day("2024-06-01")
    assert refused(con) == [
        ("installations", 4, "installed_on", "2094-06-01", "lies after the data date")]


@pytest.mark.parametrize(("first_exported", "expected"), [
    pytest.param("2023-12-31", "2024-06-01", id="before all files"),
    pytest.param("2021-12-31", "2023-03-01", id="after its own file, before another"),
])
def test_a_day_is_believed_by_its_own_file(first_exported, expected):
    facts = [{}, {"exported_on": first_exported, "loaded_on": "2021-12-31"},
             {"exported_on": "2024-12-31", "loaded_on": "2024-12-31"}]
    text = "installed_on,service_point,hose_id\n"
    first = "2022-06-01" if expected == "2024-06-01" else "2022-06-01,P1,A\n2024-06-01"
    second = "2024-06-01" if expected == "2024-06-01" else "2023-03-01"
    con = build(None, service_points=ONE_PLACE, loads=facts,
                installations=[f"{text}{first},P1,B", f"{text}{second},P1,C"])
    assert rows(con, "select as_of from clean.data_date") == [(day(expected),)]


def test_a_column_without_a_cell_is_not_stored_and_still_told():
    con = build(service_points=ONE_PLACE, replacements=REMOVED + "2020-01-01,P1,failed")
    stored = [name for name, *_ in rows(con, "describe clean.replacements_filled")]
    assert stored == ["removed_on", "service_point", "reason", "point_no", "row_no", "key_hash",
                      "reasons", "cell_reasons"]
    told = dict(row[:2] for row in rows(con, "describe clean.replacements_cells"))
    assert set(LOGS["replacements"].names) <= set(told)
    assert (told["part_cost"], told["deleted"]) == ("DECIMAL(18,2)", "BOOLEAN")
    assert rows(con, "select load_id, entry_no, source_row, part_cost, mechanism, deleted "
                     "from clean.replacements_cells") == [(2, 1, 2, None, None, False)]


def test_a_required_column_without_a_cell_is_told_row_by_row():
    con = build(service_points=ONE_PLACE,
                replacements=REMOVED + "2020-01-01,P1,\n2020-02-01,P1,")
    assert refused(con) == [("replacements", row, "reason", None, "is empty") for row in (2, 3)]


def test_data_date_of_logs_without_a_day_is_an_input_error():
    with pytest.raises(InputError, match="no readable date"):
        build(None, service_points=ONE_PLACE)


def test_lives_are_not_made_for_another_data_date_than_the_clean_rows():
    con = build(service_points=ONE_PLACE)
    with pytest.raises(CheckError, match="data date is 2024-01-01"):
        build_lives(con, day("2024-01-01"))
