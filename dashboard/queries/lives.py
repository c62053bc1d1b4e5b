"""Questions about lives: the matrix of kinds, one kind and its mechanisms, its hoses."""

from __future__ import annotations

from dashboard.queries.edition import Row, ask, ask_one
from dashboard.queries.paged import PagedTable, named

FITS = """
select application_class, construction, mechanism, n_lives, n_failures, n_intervals,
    n_suspensions, n_unknown, status, note, shape, shape_lower, shape_upper,
    characteristic_life_days, characteristic_life_days_lower, characteristic_life_days_upper,
    b10_days, b10_days_lower, b10_days_upper, pooled_shape, pooled_shape_lower,
    pooled_shape_upper, pooled_characteristic_life_days, pooled_characteristic_life_days_lower,
    pooled_characteristic_life_days_upper, pooled_b10_days, pooled_b10_days_lower,
    pooled_b10_days_upper, own_data_share, longest_life_days, mean_life_days,
    b10_days_if_unknown_failed, failures_expected, failures_expected_lower,
    failures_expected_upper, expected_p_value
from fits
"""
CLOCK_FITS = """
select clock, application_class, construction, mechanism, n_lives, n_failures, n_intervals,
    n_suspensions, n_unknown, n_cut, n_cut_failures, n_left_out, n_left_out_failures,
    n_without_meter, n_not_from_start, n_not_run, status, note, shape, shape_lower, shape_upper,
    characteristic_life, characteristic_life_lower, characteristic_life_upper, b10, b10_lower,
    b10_upper, longest_life
from clock_fits
"""
"""Fits by another clock than days; each row names its clock."""
HOSES = PagedTable(
    source="lives",
    columns={
        "hose_id": "hose_id",
        "service_point": "service_point",
        "installed_on": "installed_on",
        "removed_on": "removed_on",
        "removal_reason": "removal_reason",
        "mechanism": "mechanism",
        "kind": "kind",
        "age_days": "coalesce(age_high_days, age_low_days)",
        "age_low_days": "age_low_days",
        "age_high_days": "age_high_days",
        "entry_age_days": "entry_age_days",
        "run_hours_low": "case when run_hours_origin = 'meter' then run_hours_low end",
        "run_hours_high": "case when run_hours_origin = 'meter' then run_hours_high end",
        "cycles_low": "cycles_low",
        "cycles_high": "cycles_high",
        "exclusion": "exclusion",
        "installation_file": "installation_file",
        "installation_row": "installation_row",
        "removal_file": "removal_file",
        "removal_row": "removal_row",
        "life_id": "life_id",
    },
    key="life_id",
    order="installed_on desc",
    sorts={"service_point": named("place", "lives.service_point")},
    filters={
        "application_class": "application_class = ?",
        "construction": "construction = ?",
        "kind": "kind = ?",
    },
)
"""Every life; a kind of hose is the pair of filters class and construction."""


def mechanisms() -> list[str]:
    """Return the mechanisms with a fit, 'all' first."""
    rows = ask("select distinct mechanism from fits order by mechanism <> 'all', mechanism")
    return [row["mechanism"] for row in rows]


def matrix(mechanism: str) -> list[Row]:
    """Return one fit for every application class and construction that have a hose."""
    return ask(
        FITS + "where mechanism = ? order by application_class, construction", [mechanism]
    )


def clocks(kind: tuple[str, str] | None = None) -> list[str]:
    """Return the clocks by whose readings some life is told, of one kind or of any."""
    where = "" if kind is None else " and application_class = ? and construction = ?"
    rows = ask("select distinct clock from clock_fits where mechanism = 'all' and n_lives > 0"
               f"{where} order by clock", [*(kind or ())])
    return [row["clock"] for row in rows]


def clock_mechanisms(clock: str) -> list[str]:
    """Return the mechanisms with a fit by a clock, 'all' first."""
    rows = ask("""select distinct mechanism from clock_fits where clock = ? and n_lives > 0
        order by mechanism <> 'all', mechanism""", [clock])
    return [row["mechanism"] for row in rows]


def clock_matrix(clock: str, mechanism: str) -> list[Row]:
    """Return one fit for every kind of the classes and constructions in which a clock is read."""
    return ask(
        f"""with told as (
            select application_class, construction from clock_fits
            where clock = ? and mechanism = 'all' and n_lives > 0)
        {CLOCK_FITS} where clock = ? and mechanism = ?
            and application_class in (select application_class from told)
            and construction in (select construction from told)
        order by application_class, construction""",
        [clock, clock, mechanism],
    )


def clock_counts(clock: str) -> Row:
    """Return how many lives readings of a clock tell in all, and how many not."""
    (row,) = ask(
        """select sum(n_lives)::bigint as n_lives, sum(n_failures)::bigint as n_failures,
            sum(n_cut)::bigint as n_cut, sum(n_left_out)::bigint as n_left_out,
            sum(n_left_out_failures)::bigint as n_left_out_failures,
            sum(n_without_meter)::bigint as n_without_meter,
            sum(n_not_from_start)::bigint as n_not_from_start,
            sum(n_not_run)::bigint as n_not_run
        from clock_fits where clock = ? and mechanism = 'all'""",
        [clock],
    )
    return row


def unread_classes(clock: str) -> list[str]:
    """Return the application classes none of whose lives readings of a clock tell."""
    rows = ask(
        """select application_class from clock_fits where clock = ? and mechanism = 'all'
        group by application_class having sum(n_lives) = 0 order by application_class""",
        [clock],
    )
    return [row["application_class"] for row in rows]


def clock_cell(clock: str, kind: tuple[str, str]) -> list[Row]:
    """Return the fits of one kind by a clock, in the order of `cell`."""
    return ask(
        CLOCK_FITS
        + """where clock = ? and application_class = ? and construction = ?
        order by mechanism <> 'all', n_failures desc, mechanism""",
        [clock, *kind],
    )


def clock_curve(clock: str, kind: tuple[str, str], mechanism: str) -> list[Row]:
    """Return the share still running by age in a clock, by these hoses alone: as `curve`."""
    return ask(
        """select age, survival, survival_lower, survival_upper, null::double as survival_alone,
            null::double as survival_alone_lower, null::double as survival_alone_upper
        from clock_curves
        where clock = ? and application_class = ? and construction = ? and mechanism = ?
        order by age""",
        [clock, *kind, mechanism],
    )


def clock_points(clock: str, kind: tuple[str, str], mechanism: str) -> list[Row]:
    """Return the failures at their plotting positions by a clock: as `points`."""
    return ask(
        """select age, failure_probability, kind from clock_points
        where clock = ? and application_class = ? and construction = ? and mechanism = ?
        order by age, failure_probability""",
        [clock, *kind, mechanism],
    )


def comparable(application_class: str, construction: str) -> list[Row]:
    """Return the kinds that one kind is compared with: of its class, or of its construction."""
    return ask(
        """select distinct other_application_class, other_construction from life_comparisons
        where application_class = ? and construction = ?
        order by other_application_class <> ?, other_application_class, other_construction""",
        [application_class, construction, application_class],
    )


def comparison(kind: tuple[str, str], other: tuple[str, str], mechanism: str) -> Row | None:
    """Return how much longer one kind lasts than the other, None where they are not compared."""
    return ask_one(
        """select n_failures, n_suspensions, other_n_failures, other_n_suspensions, b10_ratio,
        b10_ratio_lower, b10_ratio_upper, longer_b10_probability, characteristic_life_ratio,
        characteristic_life_ratio_lower, characteristic_life_ratio_upper,
        longer_characteristic_life_probability, shape_ratio, shape_ratio_lower,
        shape_ratio_upper, shape_p_value, life_p_value, law_p_value, log_rank_p_value,
        log_rank_early_p_value, log_rank_late_p_value
        from life_comparisons
        where application_class = ? and construction = ? and other_application_class = ?
            and other_construction = ? and mechanism = ?""",
        [*kind, *other, mechanism],
    )


def cell(application_class: str, construction: str) -> list[Row]:
    """Return the fits of one kind of hose: any failure first, then by number of failures."""
    return ask(
        FITS
        + """where application_class = ? and construction = ?
        order by mechanism <> 'all', n_failures desc, mechanism""",
        [application_class, construction],
    )


def curve(application_class: str, construction: str, mechanism: str) -> list[Row]:
    """Return the share still running by age, by both estimates."""
    return ask(
        """select age_days as age, survival, survival_lower, survival_upper, survival_alone,
        survival_alone_lower, survival_alone_upper from life_curves
        where application_class = ? and construction = ? and mechanism = ?
            and survival is not null
        order by age_days""",
        [application_class, construction, mechanism],
    )


def points(application_class: str, construction: str, mechanism: str) -> list[Row]:
    """Return the failures at their plotting positions."""
    return ask(
        """select age_days as age, failure_probability, kind from plot_points
        where application_class = ? and construction = ? and mechanism = ?
        order by age_days, failure_probability""",
        [application_class, construction, mechanism],
    )


def free_survival(application_class: str, construction: str, mechanism: str) -> list[Row]:
    """Return the spans of age that hold the failures, with no law supposed."""
    return ask(
        """select start_days, end_days, failed_share, survival_before, survival_after, is_settled
        from free_survival where application_class = ? and construction = ? and mechanism = ?
        order by start_days""",
        [application_class, construction, mechanism],
    )


def second_opinion(application_class: str, construction: str, mechanism: str) -> Row | None:
    """Return the textbook procedures' answer for one fit, None when there is none."""
    return ask_one(
        """select rank_regression_shape, rank_regression_characteristic_life_days,
        best_distribution, aicc_weibull, aicc_lognormal, aicc_exponential, aicc_three_parameter,
        words, n_failures_judged, anderson_darling_p_value, plot_correlation_p_value,
        three_parameter_outcome, three_parameter_location_days, mixture_p_value,
        mixture_early_share, mixture_early_life_days, mixture_late_life_days from fit_tests
        where application_class = ? and construction = ? and mechanism = ?""",
        [application_class, construction, mechanism],
    )


def incidence(application_class: str, construction: str) -> list[Row]:
    """Return the chance of having failed by each mechanism, by age, the others competing."""
    return ask(
        """select mechanism, age_days, probability from cumulative_incidence
        where application_class = ? and construction = ? and mechanism <> 'all'
        order by mechanism, age_days""",
        [application_class, construction],
    )


def endings(application_class: str, construction: str) -> list[Row]:
    """Return how the hoses of one kind ended, with how many are not fitted."""
    return ask(
        """select removal_reason, count(*) as n_lives,
            count(*) filter (where not is_fitted) as n_excluded
        from lives where application_class = ? and construction = ?
        group by removal_reason order by n_lives desc, removal_reason""",
        [application_class, construction],
    )


def recurrence(application_class: str) -> tuple[list[Row], Row | None]:
    """Return how failures at the places of a class add up, and their trend."""
    curve = ask(
        """select age_days, n_places, mean, lower, upper from mean_cumulative_failures
        where application_class = ? order by age_days""",
        [application_class],
    )
    trend = ask_one(
        """select n_places, n_failures, place_years, shape, shape_lower, shape_upper,
        laplace_p_value, total_log_p_value from recurrence_trends
        where application_class = ?""",
        [application_class],
    )
    return curve, trend
