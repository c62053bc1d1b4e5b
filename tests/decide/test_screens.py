"""Physical screens against published formulas and worked values; the source is the test's name."""

import math

import numpy as np
import pytest
from scipy.linalg import eigh

from etl.decide.eligibility import derated_pressure_bar
from etl.decide.screens import bend, flow, frequency, pressure, vibration
from etl.load.seeds import rows

# One hose for the worked values: 450 mm live, 68.0/50.8 mm, 3 kg/m dry, filled with water, pulled
# sideways with guided ends at 4 N/mm (invented).
AREA = pressure.effective_area_mm2(50.8, 68.0)
WATER = frequency.water_mass_kg_m(1000.0, AREA)
MASS = 3.0 + WATER
STIFF = frequency.stiffness_n_m2(4.0, 450.0, "guided")
EIGEN = "beam theory"
FIRST = frequency.natural_frequency_hz(STIFF, MASS, 450.0)


def share(alloy, temperature):
    table = [(float(row["temperature_c"]), float(row["share"])) for row in rows("derating")
             if row["core_alloy"] == alloy]
    return derated_pressure_bar(1.0, sorted(table), temperature)


def line(name, hz):
    row = next(row for row in rows("vibration_lines") if row["line"] == name)
    return float(vibration.line_mm_s(hz, float(row["offset"]), float(row["slope"])))


def published_speed(speed, medium, bore, layout="any"):
    row = next(row for row in rows("flow_speeds") if (row["speed"], row["medium"], row["layout"])
               == (speed, medium, layout))
    return flow.published_speed_m_s(
        bore, *(float(row[name]) for name in ("per_inch_ft_s", "up_to_inch", "beyond_ft_s")))


ISO = "ISO 10380:2012 derating, second-hand copy, interpolated by us"
ENERGY = "Energy Institute 2008, constants from public code files"
TRADE = "trade-association form, geometry derived again"
CHAIN = "uniform chain, derived"
MEMORY = "band from memory, not confirmed"


@pytest.mark.parametrize(("found", "expected"), [
    pytest.param(share("316L", 175), 0.645, id=f"share 1.4404 at 175 degC: {ISO}"),
    pytest.param(40 * share("316L", 175), 25.8, id=f"40 bar at 175 degC: {ISO}"),
    pytest.param(share("321", 275), 0.69, id=f"share 1.4541 at 275 degC: {ISO}"),
    pytest.param(share("304L", 120), 0.692, id=f"share 1.4306 at 120 degC: {ISO}"),
    pytest.param(share("625", 375), 0.715, id=f"share 2.4856 at 375 degC: {ISO}"),
    pytest.param(pressure.rating_needed_bar(20, share("316L", 300)), 37.037037,
                 id="rating for 20 bar at 300 degC: trade note with 37 bar, computed again"),
    pytest.param(bend.length_for_offset_mm(250, 25), 195.256242, id=f"offset length: {TRADE}"),
    pytest.param(bend.span_for_offset_mm(250, 25), 193.649167, id=f"offset span: {TRADE}"),
    pytest.param(bend.radius_of_offset_mm(300, 10), 1500, id=f"radius of offset: {EIGEN}"),
    pytest.param(bend.radius_of_offset_mm(300, 0.5), 30000, id=f"radius of shaking: {EIGEN}"),
    pytest.param(bend.shortest_length_for_offset_mm(250, 25), 158.780215, id="two arcs: geometry"),
    pytest.param(bend.loop_across_mm(300, 100)[0], 1357, id=f"loop across, length: {TRADE}"),
    pytest.param(bend.loop_across_mm(300, 100)[1], 507.5, id=f"loop across, closest: {TRADE}"),
    pytest.param(bend.loop_across_mm(300, 100)[2], 479, id="loop across, widest: geometry"),
    pytest.param(bend.loop_along_mm(300, 200)[0], 1300, id="loop along, length: geometry"),
    pytest.param(bend.loop_along_mm(300, 200)[1], 529, id="loop along, height: geometry"),
    pytest.param(bend.length_for_angle_mm(300, 60), 314.159265, id="bend by an angle: geometry"),
    pytest.param(pressure.effective_diameter_mm(50.8, 68.0), 59.4,
                 id="mean diameter: EJMA convention, from memory"),
    pytest.param(AREA, 2771.167464, id="effective area: geometry"),
    pytest.param(pressure.thrust_n(20, AREA), 5542.334928, id="thrust: statics"),
    pytest.param(WATER, 2.771167, id="water in the hose: geometry"),
    pytest.param(MASS, 5.771167, id="hose and water: sum"),
    pytest.param(STIFF, 30.375, id=f"stiffness, guided: {EIGEN}"),
    pytest.param(frequency.stiffness_n_m2(4, 450, "free at one end"), 121.5,
                 id=f"stiffness, cantilever: {EIGEN}"),
    pytest.param(frequency.natural_frequency_hz(STIFF, MASS, 450, "pinned"), 17.795949,
                 id=f"pinned: {EIGEN}"),
    pytest.param(FIRST, 40.341424, id=f"fixed: {EIGEN}"),
    pytest.param(frequency.natural_frequency_hz(STIFF, MASS, 450, "fixed and pinned"), 27.800664,
                 id=f"fixed and pinned: {EIGEN}"),
    pytest.param(frequency.natural_frequency_hz(STIFF, MASS, 450, "free at one end"), 6.33975,
                 id=f"cantilever: {EIGEN}"),
    pytest.param(frequency.natural_frequency_hz(STIFF, 3.0, 450), 55.952878,
                 id=f"fixed, empty: {EIGEN}"),
    pytest.param(frequency.buckling_load_n(STIFF, 450), 1480.440660, id="Euler's load, textbook"),
    pytest.param(frequency.frequency_under_tension_hz(STIFF, MASS, 450, 500, "pinned"), 20.5829,
                 id="pinned, +500 N: exact"),
    pytest.param(frequency.frequency_under_tension_hz(STIFF, MASS, 450, -500, "pinned"), 14.482258,
                 id="pinned, -500 N: exact"),
    pytest.param(frequency.frequency_under_tension_hz(STIFF, MASS, 450, 500), 41.958193,
                 id="fixed, +500 N: 60 finite elements"),
    pytest.param(frequency.frequency_under_tension_hz(STIFF, MASS, 450, -500), 38.650044,
                 id="fixed, -500 N: 60 finite elements"),
    pytest.param(frequency.frequency_under_tension_hz(STIFF, MASS, 450, 2000), 46.439906,
                 id="fixed, +2000 N: 60 finite elements"),
    pytest.param(frequency.flow_term_n(1000, AREA, 5), 69.279187,
                 id="flow term: theory of pipes conveying fluid"),
    pytest.param(frequency.margin(40.341424, 49.333333), 0.182268, id="margin: as defined here"),
    pytest.param(frequency.amplification(0.8, 0.02), 2.766868, id="0.8: one degree of freedom"),
    pytest.param(frequency.amplification(0.9, 0.02), 5.171153, id="0.9: one degree of freedom"),
    pytest.param(frequency.amplification(1.0, 0.02), 25.0, id="1.0: one degree of freedom"),
    pytest.param(frequency.frequency_error()[0], 0.140175, id="error up: arithmetic"),
    pytest.param(frequency.frequency_error()[1], -0.163340, id="error down: arithmetic"),
    pytest.param(frequency.excitation_orders_hz(2960, 5)["running speed"], 49.333333,
                 id="running speed: definition"),
    pytest.param(frequency.excitation_orders_hz(2960, 5)["vane pass"], 246.666667,
                 id="vane pass: definition"),
    pytest.param(flow.axial_mode_hz(20, 50, 0.010, 1), 176.731263, id=f"mode 1: {CHAIN}"),
    pytest.param(flow.axial_mode_hz(20, 50, 0.010, 5), 878.215, id=f"mode 5: {CHAIN}"),
    pytest.param(flow.lock_in_speeds_m_s(176.731263, 3)[0], 1.767313, id=f"lowest: {MEMORY}"),
    pytest.param(flow.lock_in_speeds_m_s(176.731263, 3)[1], 2.650969, id=f"middle: {MEMORY}"),
    pytest.param(flow.lock_in_speeds_m_s(176.731263, 3)[2], 5.301938, id=f"highest: {MEMORY}"),
    pytest.param(flow.whistle_band_hz(20, 4)[0], 1500, id=f"tone, low: {MEMORY}"),
    pytest.param(flow.whistle_band_hz(20, 4)[1], 3000, id=f"tone, high: {MEMORY}"),
    pytest.param(line("concern", 10), 4.962442, id=f"concern at 10 Hz: {ENERGY}"),
    pytest.param(line("concern", 25), 7.633636, id=f"concern at 25 Hz: {ENERGY}"),
    pytest.param(line("concern", 50), 10.573498, id=f"concern at 50 Hz: {ENERGY}"),
    pytest.param(line("problem", 25), 37.001341, id=f"problem at 25 Hz: {ENERGY}"),
    pytest.param(line("problem", 50), 51.597389, id=f"problem at 50 Hz: {ENERGY}"),
    pytest.param(vibration.velocity_mm_s(0.1, 25), 11.107207, id="rms of a sine"),
    pytest.param(1e3 / vibration.radius_from_shaking_mm(1, 450), 0.1391375,
                 id="curvature at the end: mode shape"),
    pytest.param(vibration.radius_from_shaking_mm(1, 450), 7187.133605, id="radius: mode shape"),
    pytest.param(vibration.stroke_per_corrugation_mm(7187.133605, 6, 68), 0.028384,
                 id="stroke: kinematics"),
    pytest.param(vibration.cycles(50, 8000), 1.44e9, id="cycles of a year: arithmetic"),
    pytest.param(vibration.minutes_to_cycles(50_000, 50), 16.666667, id="flex test: arithmetic"),
    pytest.param(pressure.surge_bar(1000, 1200, 2), 24.0, id="surge: Joukowsky, textbook"),
    pytest.param(bend.thermal_growth_mm(10, 100), 16.5, id="growth: coefficient from memory"),
    pytest.param(published_speed("liner asked for above", "liquid", 50.8), 1.2192,
                 id="liner, liquid: EJMA 9th ed. 4.10, second-hand copy"),
    pytest.param(published_speed("liner asked for above", "gas or steam", 50.8), 2.4384,
                 id="liner, gas: EJMA 9th ed. 4.10, second-hand copy"),
    pytest.param(published_speed("trade limit", "liquid", 50.8, "straight"), 22.86,
                 id="braided, liquid, straight: trade tables, unnamed"),
    pytest.param(flow.speed_m_s(60, 50.8), 8.223022, id="speed: continuity"),
])
def test_worked_value(found, expected):
    # Six significant digits, or the six decimals that were printed.
    assert found == pytest.approx(expected, rel=1e-6, abs=5.1e-7)


def beam_hz(tension, fixed, n=40):
    """First frequency by finite elements: an independent second way."""
    h = 0.450 / n
    k = STIFF / h**3 * np.array([[12, 6*h, -12, 6*h], [6*h, 4*h*h, -6*h, 2*h*h],
                                 [-12, -6*h, 12, -6*h], [6*h, 2*h*h, -6*h, 4*h*h]])
    g = tension / (30*h) * np.array([[36, 3*h, -36, 3*h], [3*h, 4*h*h, -3*h, -h*h],
                                     [-36, -3*h, 36, -3*h], [3*h, -h*h, -3*h, 4*h*h]])
    m = MASS * h / 420 * np.array([[156, 22*h, 54, -13*h], [22*h, 4*h*h, 13*h, -3*h*h],
                                   [54, 13*h, 156, -22*h], [-13*h, -3*h*h, -22*h, 4*h*h]])
    stiff, mass = np.zeros((2, 2*n + 2, 2*n + 2))
    for e in range(n):
        part = slice(2*e, 2*e + 4)
        stiff[part, part] += k + g
        mass[part, part] += m
    held = [0, 1, 2*n, 2*n + 1] if fixed else [0, 2*n]
    free = np.setdiff1d(np.arange(2*n + 2), held)
    values = eigh(stiff[np.ix_(free, free)], mass[np.ix_(free, free)], eigvals_only=True)
    return math.sqrt(values[0]) / (2 * math.pi)


@pytest.mark.parametrize("tension", [-5000, -1400, 0, 300, 20_000, 400_000])
def test_fixed_beam_agrees_with_finite_elements(tension):
    found = frequency.frequency_under_tension_hz(STIFF, MASS, 450, tension)
    assert found == pytest.approx(beam_hz(tension, fixed=True), rel=2e-4)


def test_pinned_beam_agrees_with_finite_elements():
    for tension in (-1400, 500, 20_000):
        found = frequency.frequency_under_tension_hz(STIFF, MASS, 450, tension, "pinned")
        assert found == pytest.approx(beam_hz(tension, fixed=False), rel=1e-4)


@pytest.mark.parametrize(("ends", "times"), [("pinned", 1.0), ("fixed", 4.0)])
def test_a_beam_at_its_buckling_load_does_not_swing(ends, times):
    load = times * frequency.buckling_load_n(STIFF, 450)
    assert frequency.frequency_under_tension_hz(STIFF, MASS, 450, -load, ends) == 0.0
    near = frequency.frequency_under_tension_hz(STIFF, MASS, 450, -0.999 * load, ends)
    assert 0.0 < near < 0.1 * FIRST


def test_published_speed_steps_down_beyond_its_largest_size():
    assert published_speed("liner asked for above", "liquid", 152.4) == pytest.approx(3.6576)
    assert published_speed("liner asked for above", "liquid", 203.2) == pytest.approx(3.048)


def test_chain_agrees_with_its_matrix():
    n, spring, mass = 6, 2.0 * 6 * 50e3, 0.010
    size = 2 * n - 1
    matrix = 2.0 * np.eye(size) - np.eye(size, k=1) - np.eye(size, k=-1)
    values = np.sort(np.linalg.eigvalsh(matrix * spring / mass))
    found = [flow.axial_mode_hz(n, 50, mass, mode) for mode in range(1, size + 1)]
    np.testing.assert_allclose(found, np.sqrt(values) / (2 * math.pi), rtol=1e-9)


def test_nearest_excitation_and_ranks():
    orders = frequency.excitation_orders_hz(2960, 5)
    near, margin = frequency.nearest_excitation(FIRST, list(orders.values()))
    assert near == pytest.approx(49.333333, rel=1e-6)
    assert margin == pytest.approx(0.182268, rel=1e-5)
    assert vibration.rank_from_highest([0.2, 1.4, 0.2, 3.0]).tolist() == [3, 2, 3, 1]


def test_every_screen_says_what_it_cannot_tell_and_every_line_its_source():
    assert all(row["cannot_tell"] and row["unit"] for row in rows("screens"))
    for name in ("vibration_lines", "flow_speeds", "countermeasures"):
        assert all(row["source"] and row["status"] for row in rows(name)), name
