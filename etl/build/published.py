"""The tables of an edition."""

from __future__ import annotations

PUBLISHED = {
    "edition": "edition",
    "service_points": "service_point",
    "ranking": "rank",
    "lives": "service_point, installed_on, life_id",
    "fits": "application_class, construction, mechanism",
    "life_curves": "application_class, construction, mechanism, age_days",
    "plot_points":
        "application_class, construction, mechanism, age_days, failure_probability, kind",
    "fit_tests": "application_class, construction, mechanism",
    "cumulative_incidence": "application_class, construction, mechanism, age_days",
    "life_comparisons":
        "application_class, construction, other_application_class, other_construction, mechanism",
    "mean_cumulative_failures": "application_class, age_days",
    "recurrence_trends": "application_class",
    "place_survival": "service_point, age_days",
    "forecast": "scope, scope_name, month",
    "history": "scope, scope_name, month",
    "trial_candidates": "rank",
    "trials": "trial, service_point, arm, construction, started_on",
    "teardown_evidence": "service_point, removed_on, hose_id, life_id, rank",
    "countermeasures": "mechanism, countermeasure",
    "finding_vocabulary": "finding",
    "place_screens": "service_point, screen, compared_with",
    "preventive_ages": "application_class, construction",
    "replacement_ages": "service_point",
    "due": "due_on, service_point",
    "planned_work": "scope, scope_name, month",
    "spares": "part_number",
    "order_list": "part_number",
    "spares_what_if":
        "part_number, policy, lead_time_factor, is_stated_level, service_level",
    "spares_budget": "n_months",
    "spares_stand_ins": "part_number, stand_in",
    "refused": "log, source_file, source_row, column_name, value, reason, remedy",
    "superseded": "log, source_file, source_row, cause",
    "loads": "load_id, log",
    "corrections": "source_file, log, column_name, what, example",
    "findings": "finding, service_point, happened_on, hose_id, source_file, source_row, detail",
    "exclusions": "exclusion",
    "doubts": "doubt",
    "log_rows": "service_point, log, source_file, source_row, happened_on, cells, fate",
    "cost_curve": "n_places",
    "optional_logs": "log",
    "method_notes": "key",
    "track_forecasts": "scope, scope_name, horizon_months, as_of",
    "track_scores": "basis, scope, horizon_months, method, measure, band",
    "track_flags": "as_of, service_point, basis",
}
"""Published tables, and the columns that put their rows into one order only."""
