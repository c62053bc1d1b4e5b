"""What the sheet of rough physics asks and says."""

from __future__ import annotations

CAUTION = (
    "Rough physics ranks and questions; it clears nothing.",
    "Several constants are remembered or read second-hand, as each line says. Never run above the "
    "maker's rating derated for temperature, the weakest part ruling. Local codes, the rating "
    "sheet and licensed practice come first.",
)
FIELDS: dict[str, tuple[tuple[str, str, str], ...]] = {
    "vibration": (
        ("vibration_mm_s_rms", "Measured velocity at the pipe end, rms", "mm/s"),
        ("vibration_hz", "Main frequency of that vibration", "Hz"),
        ("amplitude_mm", "Shaking at mid-span, peak", "mm"),
        ("pitch_mm", "Pitch of the corrugations", "mm"),
        ("run_hours_per_year", "Running a year", "h")),
    "frequency": (
        ("live_length_mm", "Live length", "mm"),
        ("bending_stiffness", "Bending stiffness", "N m2"),
        ("pull_n_mm", "Or: sideways pull divided by deflection, ends kept parallel", "N/mm"),
        ("mass_kg_per_m", "Mass of the empty hose", "kg/m"),
        ("density_kg_m3", "Density of what fills it (water 1,000; 0 for gas)", "kg/m³"),
        ("tension_n", "Pull along the hose's wall, less pressure times area; minus if slack", "N"),
        ("natural_hz", "Natural frequency by a bump test", "Hz"),
        ("low_rpm", "Machine speed, or the lowest of a variable drive", "1/min"),
        ("high_rpm", "Highest speed of a variable drive", "1/min"),
        ("n_vanes", "Number of vanes, lobes or plungers", "")),
    "bend": (
        ("bend_radius_mm", "Bend radius, to the centre line", "mm"),
        ("offset_mm", "Offset, or whole travel where it moves to both sides", "mm"),
        ("angle_deg", "Angle of an even bend", "degrees"),
        ("pipe_m", "Length of austenitic pipe that grows", "m"),
        ("rise_k", "Rise of that pipe's temperature", "K")),
    "pressure": (
        ("pressure_bar", "Working pressure", "bar"),
        ("temperature_c", "Working temperature", "degC"),
        ("rated_pressure_bar", "Rating at 20 °C", "bar"),
        ("sound_m_s", "Speed of sound in the filled hose", "m/s"),
        ("change_m_s", "Sudden change of the flow", "m/s")),
    "flow": (
        ("dn_mm", "Bore", "mm"),
        ("outside_mm", "Outside diameter of the corrugations", "mm"),
        ("flow_velocity_m_s", "Flow velocity", "m/s"),
        ("n_corrugations", "Number of corrugations of the hose", ""),
        ("axial_n_mm", "Axial stiffness of the whole hose", "N/mm"),
        ("half_mass_g", "Mass of half a corrugation with its fluid", "g"),
        ("tip_mm", "Width of a corrugation's tip", "mm"),
        ("cavity_mm", "Gap between corrugations, plus the radius of its upstream edge", "mm")),
}  # fmt: skip
"""Subject -> what it asks: name in the address, words, unit as stored."""
TITLES = {
    "vibration": "Measured vibration, and what it does to the hose",
    "frequency": "Natural frequency, and what the machine excites",
    "bend": "Bend", "pressure": "Pressure and temperature", "flow": "Flow",
}  # fmt: skip
CANNOT = {
    "vibration": "No level was made for hoses: those for pipe rank places and clear none. They "
                 "belong to the fixed pipe at the hose's end; log the middle of the hose too.",
    "frequency": "A bump test as installed, filled and under pressure goes before any formula. "
                 "Bent hoses, short hoses and slack braid are not in it; nor are neighbours, "
                 "belts, gears and twice the line frequency.",
    "bend": "Nothing of vibration: half a millimetre of shaking passes every bend check. "
            "Published methods differ in what they hold fixed.",
    "pressure": "Dynamic pressure lowers the rating by factors on which the trade does not agree: "
                "ask the maker. Burst is never a margin to use.",
    "flow": "Published speeds differ almost twentyfold for one case and none is a failure speed. "
            "Bands are to look at, without a verdict.",
}  # fmt: skip
FROM_REGISTER = {
    "dn": "dn_mm", "bending_stiffness_n_m2": "bending_stiffness", "displacement_mm": "offset_mm",
    "natural_frequency_hz": "natural_hz",
}  # fmt: skip
"""Columns of the register and the catalogue that the sheet calls otherwise."""
NOTHING = "No figure yet: fill in more of this block, then press Work out."
