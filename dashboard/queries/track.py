"""Earlier forecasts, what came of them, and their scores."""

from __future__ import annotations

from dashboard.queries.edition import Row, ask, ask_one, store
from etl.track_aside import track_record_progress


def bases() -> list[str]:
    """Return on what knowledge earlier forecasts rest: what was there then comes first."""
    return [row["basis"] for row in ask(
        "select distinct basis from track_forecasts order by basis"
    )]  # fmt: skip


def being_made() -> tuple[str, int, int] | None:
    """Return month, number and count of the forecast that is being made beside the pages."""
    return track_record_progress(store())


def groups() -> list[Row]:
    """Return the groups that can be looked at: the fleet, its sites, its application classes."""
    return ask(
        """select scope, scope_name from track_forecasts
        where scope in ('fleet', 'site', 'application_class')
        group by scope, scope_name
        order by scope = 'fleet' desc, scope = 'site' desc, scope_name limit 40"""
    )


def forecasts(basis: str, scope: str, scope_name: str, horizon_months: int) -> list[Row]:
    """Return the forecasts of one group over one span, oldest first."""
    return ask(
        """select as_of, until, mean, lower, upper, lower_50, upper_50, observed, last_year_mean,
            cost_mean, cost_observed
        from track_forecasts
        where basis = ? and scope = ? and scope_name = ? and horizon_months = ?
        order by as_of""",
        [basis, scope, scope_name, horizon_months],
    )


def scores(basis: str) -> list[Row]:
    """Return every score on one basis."""
    return ask(
        """select scope, horizon_months, method, measure, band, value, lower, upper, expected,
            n_forecasts, n_origins, n_windows_apart, range_by
        from track_scores where basis = ?
        order by scope, horizon_months, method, measure, band""",
        [basis],
    )


def flags(basis: str) -> list[Row]:
    """Return the places once called failure-prone, the latest flag last."""
    return ask(
        """select f.as_of, f.service_point, f.application_class, f.relative_rate,
            f.observed_failures, f.failures_expected_so_far, f.days_since, f.failed_since,
            f.like_failed_since, f.n_like, r.is_failure_prone
        from track_flags as f left join ranking as r using (service_point)
        where f.basis = ?
        order by f.as_of, f.service_point""",
        [basis],
    )


def unknown_reasons() -> Row | None:
    """Return the fleet's removals without a reason, shared out."""
    return ask_one("select * from unknown_reasons where application_class = 'all'")
