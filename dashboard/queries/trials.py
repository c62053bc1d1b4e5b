"""Questions about trials: where one would pay, and how the registered ones stand."""

from __future__ import annotations

from dashboard.queries.edition import Row, ask


def candidates() -> list[Row]:
    """Return the places where a side-by-side trial would pay, best first."""
    return ask(
        """select c.rank, c.service_point, c.mate, c.mechanism, c.expected_failures_12_months,
            r.expected_failures_lower, r.expected_failures_upper, c.expected_cost,
            r.expected_cost_lower, r.expected_cost_upper, c.present_construction,
            c.flexible_construction, c.flexible_reason, c.stiff_construction, c.stiff_reason,
            c.stiffness_ratio, c.mass_ratio, c.months_to_ten_failures, c.reason, c.cautions,
            p.application_class, p.site, p.line, p.hazards, p.n_failures, p.n_suspensions
        from trial_candidates as c
        left join service_points as p using (service_point)
        left join ranking as r using (service_point)
        order by c.rank, c.service_point"""
    )


def registered() -> list[Row]:
    """Return the registered trials, one row a place and arm, running ones first."""
    return ask(
        """select t.trial, t.service_point, t.arm, t.construction, t.state, t.started_on,
            t.ended_on, t.n_hoses, t.n_failures, t.days_in_service, p.hazards
        from trials as t left join service_points as p using (service_point)
        order by t.state <> 'running', t.trial, t.arm, t.service_point, t.construction,
            t.started_on"""
    )
