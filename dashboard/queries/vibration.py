"""Life under vibration: the fleet, its maps and curves, and one place."""

from __future__ import annotations

from dashboard.queries.edition import Row, ask

FEW_DOTS, DOTS_APART = 400, 12
"""Dots of a map that are drawn one a place; of more, so many stand between a velocity or frequency
and e times as much."""
SUGGESTED = 200
"""Places that are suggested by name; any other can be typed."""


def summary() -> Row | None:
    """Return the one row about the fleet; None in an edition without any."""
    found = ask("select * from vibration_summary")
    return found[0] if found else None


def constructions() -> list[Row]:
    """Return every construction used where it vibrates, most lives first."""
    return ask("select * from vibration_constructions order by n_lives desc, construction")


def classes() -> list[Row]:
    """Return the application classes that vibrate, most failures by vibration first."""
    return ask(
        """select application_class, sum(n_failures)::integer as n_failures, sum(n_lives)::integer
            as n_lives, count(*)::integer as n_places
        from vibration_places group by application_class
        order by n_failures desc, application_class"""
    )


def cells(application_class: str) -> list[Row]:
    """Return the maps of a class, every cell with a life or a reason."""
    return ask(
        """select construction, velocity_mm_s, frequency_hz, natural_frequency_hz, b10_days,
            b10_days_lower, b10_days_upper, support, n_places, reason
        from vibration_cells where application_class = ?
        order by construction, velocity_mm_s, frequency_hz""",
        [application_class],
    )


def dots(application_class: str) -> list[Row]:
    """Return one row per place and construction of a class: where it lies, and what failed.

    Places of other classes with these constructions come along: they are evidence too. Where a
    map would hold more than `FEW_DOTS`, those that lie together are one row without a name: there
    they could not be told apart.
    """
    return ask(
        """with place_lives as (
            select l.construction, p.service_point, p.velocity_mm_s, p.frequency_hz,
                p.application_class = $name as is_own, count(*) as n_lives,
                count(*) filter (where l.mechanism = 'vib_fatigue') as n_failures
            from lives as l join vibration_places as p using (service_point)
            where l.is_fitted and l.construction in (
                select construction from vibration_cells where application_class = $name)
            group by all
        ),
        dots as (select *, count(*) over (partition by construction) as n_dots from place_lives)

        select construction, case when count(*) = 1 then min(service_point) end as service_point,
            count(*)::integer as n_places, avg(velocity_mm_s) as velocity_mm_s,
            avg(frequency_hz) as frequency_hz, is_own, sum(n_lives)::integer as n_lives,
            sum(n_failures)::integer as n_failures
        from dots
        group by construction, is_own, n_failures > 0, round($apart * ln(velocity_mm_s)),
            round($apart * ln(frequency_hz)), case when n_dots <= $few then service_point end
        order by construction, min(service_point)""",
        {"name": application_class, "few": FEW_DOTS, "apart": DOTS_APART},
    )


def curves(application_class: str) -> list[Row]:
    """Return B10 over velocity of every construction of a class."""
    return ask(
        """select construction, velocity_mm_s, b10_days, b10_days_lower, b10_days_upper
        from vibration_lives where application_class = ?
        order by construction, velocity_mm_s""",
        [application_class],
    )


def places(application_class: str) -> list[Row]:
    """Return the first places of a class with a hose: those where something can be said of other
    constructions, and of these the ones with most failures by vibration.
    """
    return ask(
        """select p.service_point from vibration_places as p
        left join (
            select service_point, count(chance) as n_chances from vibration_choices group by all
        ) as c using (service_point)
        left join place_list as l using (service_point)
        where p.application_class = ? and p.construction is not null
        order by coalesce(c.n_chances, 0) > 0 desc, p.n_failures desc, l.name_no,
            p.service_point
        limit ?""",
        [application_class, SUGGESTED],
    )


def place(service_point: str) -> Row | None:
    """Return one place, or None where it is not among those that vibrate."""
    found = ask("select * from vibration_places where service_point = ?", [service_point])
    return found[0] if found else None


def choices(service_point: str) -> list[Row]:
    """Return how other constructions would do at a place, the best first."""
    return ask(
        """select construction, present_construction, chance, next_chance, life_ratio,
            life_ratio_lower, life_ratio_upper, n_common_places, n_failures, reason
        from vibration_choices where service_point = ?
        order by chance desc nulls last, construction""",
        [service_point],
    )


def errors() -> list[Row]:
    """Return the exponent under each error of a reading that may hold."""
    return ask("select * from vibration_errors order by error_sd")
