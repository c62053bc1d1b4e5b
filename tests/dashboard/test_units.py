"""Units follow the reader's choice everywhere, by one table of factors."""

import csv
import io
import re
from pathlib import Path

import dash
import pytest

from dashboard import units
from etl.decide.screens import flow
from etl.load.columns import LOGS
from etl.load.seeds import conversion
from etl.load.seeds import rows as seed_rows

DASHBOARD = Path(units.__file__).parent
# NIST SP 811 (2008), Appendix B.8 and B.9, from memory: the unit, its SI unit, the factor printed.
SP811 = [
    pytest.param("psi", "bar", 6.894757e3 * 1e-5, id="SP 811 psi 6.894757 E+03 Pa"),
    pytest.param("in", "mm", 2.54e1, id="SP 811 inch 2.54 E-02 m exactly"),
    pytest.param("ft/s", "m/s", 3.048e-1, id="SP 811 foot per second 3.048 E-01 m/s exactly"),
    pytest.param("in/s", "mm/s", 2.54e1, id="SP 811 inch per second 2.54 E-02 m/s exactly"),
    pytest.param("lb", "kg", 4.535924e-1, id="SP 811 pound 4.535924 E-01 kg"),
    pytest.param("lb/ft", "kg/m", 1.488164, id="SP 811 pound per foot 1.488164 kg/m"),
    pytest.param("lbf in2", "N m2", 4.448222 * 2.54e-2**2, id="SP 811 lbf 4.448222 N, inch"),
]


@pytest.mark.parametrize(("unit", "stored", "factor"), SP811)
def test_factors_are_the_published_ones(unit, stored, factor):
    assert units.US[stored] == unit
    assert units.conversion(stored, "us").factor == pytest.approx(factor, rel=2e-7)
    assert units.conversion(stored, "us").offset == 0


@pytest.mark.parametrize(("celsius", "fahrenheit"), [
    pytest.param(0.0, 32.0, id="SP 811 B.8: t/degC = (t/degF - 32)/1.8"),
    pytest.param(100.0, 212.0, id="SP 811 B.8, boiling water"),
    pytest.param(-40.0, -40.0, id="where both scales meet"),
])
def test_temperatures_have_an_offset(celsius, fahrenheit):
    assert units.conversion("degC", "us").shown(celsius) == pytest.approx(fahrenheit)


def test_loading_screens_and_pages_share_the_factors():
    for stored, shown in units.US.items():
        how = units.conversion(stored, "us")
        assert (how.factor, how.offset) == conversion(shown, stored)
    assert conversion("ft/s", "m/s")[0] == flow.FOOT
    assert conversion("in", "mm")[0] == flow.INCH_MM
    assert all(row["source"] for row in seed_rows("units"))


def test_every_unit_of_a_log_is_converted_or_the_same_in_both_systems():
    used = {column.unit for log in LOGS.values() for column in log.columns if column.unit}
    assert used - set(units.US) == {"Hz", "h", "d"}
    for log in LOGS.values():
        for column in log.columns:
            if column.unit in units.US:
                assert units.column(column.name, "us")[1] is not None, column.name


@pytest.mark.parametrize("told", ["13 mm", "12.5 bar", "180 degC", "3.1 kg/m", "19 N m²", "7 m/s"])
def test_a_sentence_goes_there_and_stays_in_si(told):
    assert units.in_sentence(told, "si").startswith(told.split()[0])
    assert units.in_sentence(told, "us").split()[0] != told.split()[0]


def test_a_name_with_a_unit_in_it_is_no_figure():
    for told in ("DN 50", "2026-10-31", "90 %", "12 barrels", "3 mm²", "P 4 barge"):
        assert units.in_sentence(told, "us") == told


def test_no_page_writes_a_unit_of_its_own():
    """A figure followed by a unit anywhere but in `units` would not follow the choice."""
    own = re.compile(r"\} ?(bar|mm|mm/s|m/s|kg|kg/m|N m²|°C|degC|psi|in/s)\b[^=]")
    for path in [*DASHBOARD.rglob("*.py")]:
        if path.name not in ("units.py", "test_units.py"):
            assert own.findall(path.read_text(encoding="utf-8")) == [], path.name


@pytest.mark.parametrize("address", ["/places/HD-2 discharge A", "/vibration", "/teardown",
                                     "/trials", "/spares"])
def test_no_si_figure_stays_on_a_page_in_us_units(full, address):
    si = re.compile(r"\d ?(?:bar|mm/s|mm|°C|degC|m/s|kg/m|N m²)\b")
    plain = full.text(address)
    full.client.set_cookie(units.COOKIE, "us", domain="localhost")
    try:
        shown = full.text(address)
    finally:
        full.client.delete_cookie(units.COOKIE, domain="localhost")
    assert si.findall(shown) == []
    assert len(shown.split()) >= len(plain.split()) - 8  # the same page, only its units differ


def test_a_table_taken_away_says_its_units_in_its_header(full):
    def table(query):
        answer = full.client.get(f"/download/service_points.csv{query}")
        return list(csv.DictReader(io.StringIO(answer.get_data().decode("utf-8-sig"))))

    si, us = table(""), table("?units=us")
    assert "pressure_psi" in us[0]
    assert "pressure_bar" not in us[0]
    with_both = [(a, b) for a, b in zip(si, us, strict=True) if a["temperature_c"]]
    assert with_both
    for a, b in with_both:
        assert float(b["temperature_f"]) == pytest.approx(1.8 * float(a["temperature_c"]) + 32)
    assert table("?units=furlongs") == si


def test_screens_are_converted_row_by_row():
    names = ["screen", "value", "lower", "limit_value", "unit", "ratio"]
    rows = [[("rating", 10.0, None, 20.0, "bar", 0.5), ("frequency", 30.0, 25.0, 40.0, "Hz", 0.75)]]
    head, batches = units.export(names, rows, "us")
    (batch,) = batches
    assert head == names
    assert batch[0] == ("rating", pytest.approx(145.038), None, pytest.approx(290.075), "psi", 0.5)
    assert batch[1] == ("frequency", 30.0, 25.0, 40.0, "Hz", 0.75)


@pytest.mark.parametrize("system", list(units.SYSTEMS))
def test_every_page_opens_in_either_system(full, system):
    paths = [page["path"] for page in dash.page_registry.values() if not page["path_template"]]
    assert len(paths) >= 10
    for path in paths:
        told = full.text(f"{path}?units={system}")
        assert "asks for something that is not there" not in told, path
