"""A sheet of rough physics: what can be worked out from the figures that somebody has.

Each subject gives the lines whose inputs are known and leaves the others out. Nothing here is a
verdict; what each subject cannot tell is said beside it by the page.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from etl.decide.eligibility import derated_pressure_bar
from etl.decide.screens import bend, flow, frequency, pressure, vibration
from etl.decide.screens.line import Given, Line, known

BEAM = ("a straight beam", "derived, any textbook of vibration")
STATICS = ("statics", "any textbook")
TRADE = ("trade form for an offset with parallel ends", "read second-hand; a beam agrees")
GEOMETRY = ("geometry", "derived")
ISO = "ISO 10380:2012, derating of the core alloy"
DAMPING = (0.02, 0.05)
"""Shares of critical between which amplification is told; none for hoses was found (ours)."""
WORTH_A_WORD = 1.5
"""Amplification from which on it is told."""
FLEX_CYCLES = 50_000.0
"""Cycles of a usual flex test, from memory."""
AXIAL_MODES = (1, 2, 3)
HELD = ("fixed", "pinned")
"""Ends for which tension is worked out."""


def frequency_lines(given: Given, ends: str) -> Iterator[Line]:
    """Yield stiffness, natural frequency, and how near the machine's orders lie.

    Parameters
    ----------
    given : mapping
        ``live_length_mm``, ``stiffness_n_m2`` or ``pull_n_mm`` (force over deflection, the ends
        kept parallel), ``mass_kg_per_m`` dry, ``density_kg_m3`` of what fills it, ``dn_mm`` and
        ``outside_mm`` of the corrugations, ``tension_n``, ``natural_hz`` measured, ``low_rpm``,
        ``high_rpm``, ``n_vanes``, ``vibration_hz``.
    ends : str
        A key of `frequency.EIGENVALUES`.
    """
    stiffness = given.get("stiffness_n_m2")
    if not stiffness and (pull := known(given, "pull_n_mm", "live_length_mm")):
        stiffness = frequency.stiffness_n_m2(pull[0], pull[1], "guided")
        yield Line("Bending stiffness from the pull", stiffness, "N m2", *BEAM,
                   note="at service pressure and small amplitude; friction in the braid changes it")
    natural = given.get("natural_hz")
    hose = known({**given, "stiffness": stiffness}, "stiffness", "mass_kg_per_m", "live_length_mm")
    if hose:
        filled = 0.0
        for line in _of_beam(given, hose, ends):
            filled = filled or line.value
            yield line
        natural = natural or filled
    if natural:
        yield from _orders(given, natural)


def _of_beam(given: Given, hose: Sequence[float], ends: str) -> Iterator[Line]:
    """Yield the frequencies of a beam: filled first, then empty, then under tension."""
    stiffness, dry, length = hose
    up, down = frequency.frequency_error()
    content = frequency.water_mass_kg_m(given.get("density_kg_m3") or 0.0, _area_mm2(given))
    said = {"source": f"beam, ends {ends}", "status": "stiffness 30 % either way"}

    def line(what: str, hz: float, note: str) -> Line:
        return Line(what, hz, "Hz", lower=hz * (1.0 + down), upper=hz * (1.0 + up), note=note,
                    **said)

    for what, mass in (("filled", dry + content), ("empty", dry)):
        if what == "filled" and not content:
            continue
        yield line(f"First natural frequency, {what}",
                   frequency.natural_frequency_hz(stiffness, mass, length, ends),
                   "a bent or looped hose has no simple formula: a bump test goes first")
    tension = given.get("tension_n")
    if tension and ends in HELD:
        flowing = given.get("flow_velocity_m_s") or 0.0
        lost = frequency.flow_term_n(given.get("density_kg_m3") or 0.0, _area_mm2(given), flowing)
        yield line(f"The same under {tension:,.0f} N", frequency.frequency_under_tension_hz(
            stiffness, dry + content, length, tension - lost, ends),
            "0 where a slack braid lets the hose buckle")


def _area_mm2(given: Given) -> float:
    """Return the area of what is in the hose: mean of the corrugations, else the bore."""
    if sizes := known(given, "dn_mm", "outside_mm"):
        return pressure.effective_area_mm2(*sizes)
    bore = given.get("dn_mm") or 0.0
    return math.pi / 4.0 * bore**2


def _orders(given: Given, natural: float) -> Iterator[Line]:
    """Yield what the machine excites, as bands over its speeds, and how near each one lies."""
    bands: dict[str, tuple[float, float]] = {}
    if low := known(given, "low_rpm"):
        speeds = sorted((low[0], given.get("high_rpm") or low[0]))
        first, last = (frequency.excitation_orders_hz(speed, int(given.get("n_vanes") or 0))
                       for speed in speeds)
        bands = {name: (first[name], last[name]) for name in first if last[name] > 0.0}
    if hz := given.get("vibration_hz"):
        bands["measured vibration"] = (hz, hz)
    for name, (bottom, top) in bands.items():
        is_inside = bottom <= natural <= top
        near, apart = frequency.nearest_excitation(natural, (bottom, top))
        near, apart = (natural, 0.0) if is_inside else (near, apart)
        most, least = (frequency.amplification(near / natural, share) for share in DAMPING)
        swells = (f"; amplitude there {least:.1f} to {most:.1f} times the slow one (damping 2 to "
                  "5 %, no value for hoses found)" if most >= WORTH_A_WORD else "")
        yield Line(
            f"From {natural:.1f} Hz to {name}", 100.0 * apart, "%",
            "customary: 20 % if measured, 30 % from a measured stiffness, else no verdict",
            "API 618, from memory",
            note=f"{_band(bottom, top)} Hz{swells}")


def _band(low: float, high: float) -> str:
    return f"{low:.1f}" if low == high else f"{low:.1f} to {high:.1f}"


def bend_lines(given: Given) -> Iterator[Line]:
    """Yield lengths that bends need, and the radius that an offset makes.

    Parameters
    ----------
    given : mapping
        ``bend_radius_mm``, ``offset_mm``, ``live_length_mm``, ``angle_deg``, ``pipe_m`` and
        ``rise_k`` of the pipe that grows.
    """
    offset = given.get("offset_mm")
    if pipe := known(given, "pipe_m", "rise_k"):
        growth = bend.thermal_growth_mm(*pipe)
        yield Line("Growth of austenitic pipe", growth, "mm", "coefficient 16.5e-6 per K",
                   "from memory")
        offset = offset or growth
    moves = {**given, "offset": offset}
    if pair := known(moves, "bend_radius_mm", "offset"):
        radius, travel = pair
        both = "the whole travel where it moves to both sides"
        yield Line("Live length for the offset", bend.length_for_offset_mm(radius, travel), "mm",
                   *TRADE, note=both)
        yield Line("Distance of the ends then", bend.span_for_offset_mm(radius, travel), "mm",
                   *TRADE)
        if travel <= 4.0 * radius:
            yield Line("Least length that geometry allows", bend.shortest_length_for_offset_mm(
                radius, travel), "mm", *GEOMETRY, note="two arcs; no hose should be that short")
        length, near, wide = bend.loop_across_mm(radius, travel)
        yield Line("U-loop, legs moving across: length", length, "mm", *TRADE, note=(
            f"height {near:,.0f} mm legs closest, {wide:,.0f} mm widest (geometry; one trade "
            "table prints less)"))
        length, height = bend.loop_along_mm(radius, travel)
        yield Line("U-loop, one leg moving lengthwise: length", length, "mm", *GEOMETRY,
                   note=f"height {height:,.0f} mm")
    if pair := known(moves, "live_length_mm", "offset"):
        yield Line("Smallest radius that the offset makes", bend.radius_of_offset_mm(*pair), "mm",
                   *BEAM, note="compare with the least radius of the catalogue, to the centre line")
    if pair := known(given, "bend_radius_mm", "angle_deg"):
        yield Line("Live length of the even bend", bend.length_for_angle_mm(*pair), "mm", *GEOMETRY)


def pressure_lines(
    given: Given, table: Sequence[tuple[float, float]] | None
) -> Iterator[Line]:
    """Yield the rating left and needed at temperature, end load and surge.

    Parameters
    ----------
    given : mapping
        ``pressure_bar``, ``temperature_c``, ``rated_pressure_bar``, ``dn_mm``, ``outside_mm``,
        ``density_kg_m3``, ``sound_m_s`` in the filled hose, ``change_m_s`` of the flow.
    table : sequence of (temperature, share left), or None
        Of the core alloy.
    """
    temperature = given.get("temperature_c")
    left = (derated_pressure_bar(1.0, list(table), temperature)
            if table and temperature is not None else None)
    if left:
        weakest = "the smallest factor of core, braid, welds and ends rules, and the rating sheet"
        yield Line("Share of the rating left at temperature", 100.0 * left, "%", ISO,
                   "second-hand copy", note=weakest)
        if rated := known(given, "rated_pressure_bar"):
            yield Line("Rating left", rated[0] * left, "bar", ISO, "second-hand copy")
        if working := known(given, "pressure_bar"):
            yield Line("Rating that is needed at 20 degC",
                       pressure.rating_needed_bar(working[0], left), "bar", ISO, "second-hand copy")
    if load := known(given, "pressure_bar", "dn_mm", "outside_mm"):
        area = pressure.effective_area_mm2(load[1], load[2])
        yield Line("End load from pressure", pressure.thrust_n(load[0], area), "N", *STATICS,
                   note="carried by the braid; by anchors where the braid is slack")
    if shock := known(given, "density_kg_m3", "sound_m_s", "change_m_s"):
        yield Line("Surge when the flow changes at once", pressure.surge_bar(*shock), "bar",
                   "Joukowsky", "any textbook of hydraulics",
                   note="the give of the hose lowers the speed of sound")


def flow_lines(given: Given, speeds: Sequence[Mapping[str, str]]) -> Iterator[Line]:
    """Yield published speeds, and bands in which corrugations may be excited.

    Parameters
    ----------
    given : mapping
        ``dn_mm``, ``flow_velocity_m_s``, ``n_corrugations``, ``axial_n_mm`` of the whole hose,
        ``half_mass_g`` of half a corrugation with its fluid, ``tip_mm`` and ``cavity_mm``.
    speeds : sequence of mapping
        Published speeds.
    """
    if bore := known(given, "dn_mm"):
        yield from _published_speeds(bore[0], speeds)
    if row_of := known(given, "n_corrugations", "axial_n_mm", "half_mass_g"):
        count, spring, grams = int(row_of[0]), row_of[1], row_of[2]
        for mode in AXIAL_MODES[:2 * count - 1]:
            hz = flow.axial_mode_hz(count, spring, grams * 1e-3, mode)
            yield Line(f"Axial frequency {mode} of the corrugations", hz, "Hz",
                       "uniform chain held at both ends", "derived")
            if tip := known(given, "tip_mm"):
                low, middle, high = flow.lock_in_speeds_m_s(hz, tip[0])
                yield Line(f"Flow that may excite it ({mode})", middle, "m/s",
                           "Strouhal number 0.1 to 0.3", "from memory, not confirmed", low, high,
                           "an elbow just upstream lowers it")
    if gas := known(given, "flow_velocity_m_s", "cavity_mm"):
        low, high = flow.whistle_band_hz(*gas)
        yield Line("Tones of corrugations in a gas", 0.5 * (low + high), "Hz",
                   "Strouhal number 0.3 to 0.6", "from memory, not confirmed", low, high,
                   "measure a tone that is heard, and see whether it rises with the flow")


def _published_speeds(bore: float, speeds: Sequence[Mapping[str, str]]) -> Iterator[Line]:
    """Yield published speeds, the layouts of one kind of hose as a band."""
    alike: dict[tuple[str, str, str], list[tuple[float, Mapping[str, str]]]] = {}
    for row in speeds:
        alike.setdefault((row["speed"], row["medium"], row["cover"]), []).append((
            flow.published_speed_m_s(bore, float(row["per_inch_ft_s"]), float(row["up_to_inch"]),
                                     float(row["beyond_ft_s"])), row))
    for (speed, medium, cover), found in alike.items():
        found.sort(key=lambda pair: pair[0])
        value, row = found[len(found) // 2]
        ends = ([found[0][0], found[-1][0]] if len(found) > 1 else [None, None])
        layouts = ", ".join(other["layout"] for _, other in found)
        yield Line(
            ", ".join([speed.capitalize(), medium, *([] if cover == "any" else [cover])]), value,
            "m/s", row["source"], row["status"], ends[0], ends[1],
            row["meaning"] if len(found) == 1 else f"{row['meaning']}; {layouts}")


def vibration_lines(given: Given, lines: Sequence[Mapping[str, str]]) -> Iterator[Line]:
    """Yield published levels for pipe, and what shaking does to the hose.

    Parameters
    ----------
    given : mapping
        ``vibration_hz``, ``vibration_mm_s_rms``, ``amplitude_mm`` at mid-span, ``live_length_mm``,
        ``outside_mm``, ``pitch_mm``, ``run_hours_per_year``.
    lines : sequence of mapping
        Published levels.
    """
    hz = given.get("vibration_hz")
    for row in lines:
        level = level_mm_s(row, hz)
        if level is not None:
            yield Line(f"Level for {row['made_for']}: {row['line']}", level, "mm/s", row["source"],
                       row["status"], note=_times(given.get("vibration_mm_s_rms"), level))
    if shaking := known(given, "amplitude_mm", "live_length_mm"):
        radius = vibration.radius_from_shaking_mm(*shaking)
        yield Line("Radius at the ends that the shaking makes", radius, "mm", *BEAM,
                   note="first mode, ends held; passes every bend check and may still kill")
        if fibre := known(given, "pitch_mm", "outside_mm"):
            yield Line("Stroke of one corrugation then", vibration.stroke_per_corrugation_mm(
                radius, *fibre), "mm", "kinematics of bending", "derived")
    if hz and hz > 0.0:
        if amplitude := known(given, "amplitude_mm"):
            yield Line("Velocity of that shaking, rms", vibration.velocity_mm_s(amplitude[0], hz),
                       "mm/s", "a pure sine", "any textbook")
        if hours := known(given, "run_hours_per_year"):
            yield Line("Millions of cycles a year", vibration.cycles(hz, hours[0]) / 1e6, "",
                       "frequency times time", "arithmetic")
        yield Line(f"Minutes to the {FLEX_CYCLES:,.0f} cycles of a usual flex test",
                   vibration.minutes_to_cycles(FLEX_CYCLES, hz), "", "frequency times time",
                   "cycles of the test from memory",
                   note="catalogue flex cycles say nothing about vibration")


def level_mm_s(row: Mapping[str, str], hz: float | None) -> float | None:
    """Return a published level as rms velocity; None where it needs a frequency that is unknown."""
    if row["form"] == "level":
        return float(row["level_mm_s"]) / (math.sqrt(2.0) if row["quantity"] == "peak" else 1.0)
    if not hz or hz <= 0.0:
        return None
    return float(vibration.line_mm_s(hz, float(row["offset"]), float(row["slope"])))


def _times(measured: float | None, level: float) -> str:
    """Say how the measured velocity compares; ranks, judges nothing."""
    return f"measured {measured / level:.2g} times that" if measured else ""
