"""The published tables of an edition, as the pages may read them."""

SCHEMA = """
create table edition (edition integer, as_of date, currency varchar, software_version varchar,
    n_service_points integer, n_in_service integer, n_lives integer, n_failures integer,
    n_refused integer, n_excluded integer, first_installed_on date, confidence double,
    late_failures double, late_failures_lower double, late_failures_upper double,
    on_record_in_month double, months_until_on_record integer);
create table service_points (service_point varchar, application_class varchar, site varchar,
    area varchar, line varchar, equipment varchar, medium varchar, hazards varchar[], dn integer,
    pressure_bar double, temperature_c double, flow_velocity_m_s double, movement varchar,
    vibration_mm_s_rms double, vibration_hz double, live_length_mm double, bend_radius_mm double,
    records_from date, retired_on date, hose_id varchar, construction varchar,
    part_number varchar, installed_on date, age_days double, n_lives integer,
    n_failures integer, n_suspensions integer);
create table ranking (rank integer, service_point varchar, expected_failures double,
    expected_failures_lower double, expected_failures_upper double, expected_cost double,
    expected_cost_lower double, expected_cost_upper double, probability_worst_ten double,
    observed_failures integer, failures_expected_so_far double, relative_rate double,
    relative_rate_lower double, relative_rate_upper double, n_peers integer,
    is_failure_prone boolean, reason varchar, next_step varchar, next_step_reason varchar,
    failure_probability_90_days double, failure_probability_90_days_lower double,
    failure_probability_90_days_upper double, cost_per_failure double, cost_origin varchar,
    cost_first_on date, cost_last_on date, is_tied_with_first boolean, excess_cost double);
create table lives (life_id bigint, hose_id varchar, service_point varchar,
    application_class varchar, construction varchar, part_number varchar, mechanism varchar,
    kind varchar, removal_reason varchar, is_unknown_reason boolean, entry_age_days double,
    age_low_days double, age_high_days double, installed_on date, removed_on date,
    is_open boolean, is_fitted boolean, exclusion varchar, run_hours_low double,
    run_hours_high double, run_hours_entry double, run_hours_origin varchar,
    cycles_low double, cycles_high double, cycles_entry double,
    installation_file varchar, installation_row bigint, removal_file varchar,
    removal_row bigint, part_cost decimal(18, 2), labour_cost decimal(18, 2),
    other_cost decimal(18, 2), downtime_h double, last_seen_good_on date, cost double);
create table fits (application_class varchar, construction varchar, mechanism varchar,
    n_lives integer, n_failures integer, n_intervals integer, n_suspensions integer,
    n_unknown integer, b10_days_if_unknown_failed double,
    status varchar, note varchar, shape double, shape_lower double, shape_upper double,
    characteristic_life_days double, characteristic_life_days_lower double,
    characteristic_life_days_upper double, b10_days double, b10_days_lower double,
    b10_days_upper double, log_likelihood double, pooled_shape double,
    pooled_shape_lower double, pooled_shape_upper double,
    pooled_characteristic_life_days double, pooled_characteristic_life_days_lower double,
    pooled_characteristic_life_days_upper double, pooled_b10_days double,
    pooled_b10_days_lower double, pooled_b10_days_upper double, own_data_share double,
    longest_life_days double, mean_life_days double, failures_expected double,
    failures_expected_lower double, failures_expected_upper double, expected_p_value double);
create table life_curves (application_class varchar, construction varchar, mechanism varchar,
    age_days double, survival double, survival_lower double, survival_upper double,
    survival_alone double, survival_alone_lower double, survival_alone_upper double);
create table clock_fits (clock varchar, application_class varchar, construction varchar,
    mechanism varchar, n_lives integer, n_failures integer, n_intervals integer,
    n_suspensions integer, n_unknown integer, n_cut integer, n_cut_failures integer,
    n_left_out integer, n_left_out_failures integer, n_without_meter integer,
    n_not_from_start integer, n_not_run integer, status varchar, note varchar, shape double,
    shape_lower double, shape_upper double, characteristic_life double,
    characteristic_life_lower double, characteristic_life_upper double, b10 double,
    b10_lower double, b10_upper double, log_likelihood double, mean_life double,
    longest_life double);
create table clock_curves (clock varchar, application_class varchar, construction varchar,
    mechanism varchar, age double, survival double, survival_lower double,
    survival_upper double);
create table clock_points (clock varchar, application_class varchar, construction varchar,
    mechanism varchar, age double, failure_probability double, kind varchar);
create table plot_points (application_class varchar, construction varchar, mechanism varchar,
    age_days double, failure_probability double, kind varchar);
create table fit_tests (application_class varchar, construction varchar, mechanism varchar,
    rank_regression_shape double, rank_regression_characteristic_life_days double,
    best_distribution varchar, aicc_weibull double, aicc_lognormal double,
    aicc_exponential double, aicc_three_parameter double, words varchar,
    n_failures_judged integer, anderson_darling double, anderson_darling_p_value double,
    plot_correlation double, plot_correlation_p_value double, three_parameter_outcome varchar,
    three_parameter_location_days double, three_parameter_shape double,
    three_parameter_scale_days double, mixture_p_value double, mixture_early_share double,
    mixture_early_life_days double, mixture_late_life_days double);
create table free_survival (application_class varchar, construction varchar,
    mechanism varchar, start_days double, end_days double, failed_share double,
    survival_before double, survival_after double, is_settled boolean);
create table cumulative_incidence (application_class varchar, construction varchar,
    mechanism varchar, age_days double, probability double);
create table life_comparisons (application_class varchar, construction varchar,
    other_application_class varchar, other_construction varchar, mechanism varchar,
    n_failures integer, n_suspensions integer, other_n_failures integer,
    other_n_suspensions integer, b10_ratio double, b10_ratio_lower double,
    b10_ratio_upper double, longer_b10_probability double, characteristic_life_ratio double,
    characteristic_life_ratio_lower double, characteristic_life_ratio_upper double,
    longer_characteristic_life_probability double, shape_ratio double,
    shape_ratio_lower double, shape_ratio_upper double, shape_p_value double,
    life_p_value double, law_p_value double, log_rank_p_value double,
    log_rank_early_p_value double, log_rank_late_p_value double);
create table mean_cumulative_failures (application_class varchar, age_days double,
    n_places integer, mean double, lower double, upper double);
create table recurrence_trends (application_class varchar, n_places integer,
    n_failures integer, place_years double, shape double, shape_lower double,
    shape_upper double, laplace_statistic double, laplace_p_value double,
    total_log_statistic double, total_log_p_value double);
create table group_mean_failures (scope varchar, site varchar, scope_name varchar,
    age_days double, n_places integer, mean double, lower double, upper double);
create table group_trends (scope varchar, site varchar, scope_name varchar, n_places integer,
    n_failures integer, place_years double, shape double, shape_lower double,
    shape_upper double, laplace_statistic double, laplace_p_value double,
    total_log_statistic double, total_log_p_value double);
create table place_survival (service_point varchar, age_days float, survival float,
    survival_lower float, survival_upper float);
create table forecast (month date, scope varchar, scope_name varchar, mean double,
    lower double, upper double, cost_mean double, cost_lower double, cost_upper double);
create table history (month date, scope varchar, scope_name varchar, n_removed integer,
    n_failed integer, n_planned integer, cost double, cost_of_failures double);
create table teardown_findings (life_id bigint, hose_id varchar, service_point varchar,
    removed_on date, finding varchar, state varchar, confirmed_mechanism varchar);
create table teardown_evidence (life_id bigint, hose_id varchar, service_point varchar,
    removed_on date, examined_on date, rank integer, mechanism varchar, probability double,
    level varchar, speaks_for varchar[], speaks_against varchar[], open_points varchar[],
    next_check varchar, coverage double, n_checked integer, n_present integer,
    n_unread integer, logged_mechanism varchar, is_counted boolean, basis varchar);
create table countermeasures (mechanism varchar, countermeasure varchar, why varchar,
    trial_value varchar, side_effects varchar, source varchar, status varchar);
create table finding_vocabulary (finding varchar, words varchar, kind varchar,
    looked_at varchar, speaks_for varchar[], speaks_against varchar[], source varchar,
    status varchar, strength_status varchar);
create table place_screens (service_point varchar, screen varchar, title varchar,
    compared_with varchar, value double, lower double, upper double, limit_value double,
    unit varchar, ratio double, rank integer, n_ranked integer, source varchar,
    status varchar, cannot_tell varchar);
create table place_duty (service_point varchar, construction varchar, dn double,
    pressure_bar double, temperature_c double, flow_velocity_m_s double, live_length_mm double,
    bend_radius_mm double, vibration_mm_s_rms double, vibration_hz double,
    natural_frequency_hz double, run_hours_per_year double, displacement_mm double,
    core_alloy varchar, rated_pressure_bar double, min_bend_radius_dynamic_mm double,
    bending_stiffness_n_m2 double, mass_kg_per_m double);
create table trials (trial varchar, service_point varchar, arm varchar, construction varchar,
    state varchar, started_on date, ended_on date, n_hoses integer, n_failures integer,
    days_in_service double, decision varchar, decision_reason varchar, pair varchar, planned_end_on
    date, planned_failures double, early_failure_limit double, expected_life_ratio double,
    expected_life_ratio_log_sd double, coin_seed bigint, rule varchar, row_id varchar, entered_by
    varchar, entered_at varchar);
create table preventive_ages (application_class varchar, construction varchar,
    n_failures integer, n_suspensions integer, shape double, shape_lower double,
    shape_upper double, cost_per_failure double, cost_per_planned_change double,
    verdict varchar, preventive_age_days double, flat_from_days double, flat_to_days double,
    failing_before_probability double, saving_per_year double, saving_per_year_lower double,
    saving_per_year_upper double, saving_probability double, cost_per_year double,
    cost_per_year_on_failure double, required_interval_days double);
create table replacement_ages (service_point varchar, method varchar,
    replacement_age_days double, reason varchar, verdict varchar, preventive_age_days double,
    flat_from_days double, flat_to_days double, failing_before_probability double,
    saving_per_year double, saving_per_year_lower double, saving_per_year_upper double,
    saving_probability double, cost_per_year double, cost_per_year_on_failure double,
    required_interval_days double, cost_per_planned_change double, planned_cost_origin varchar,
    cost_per_failure double, planned_on date, is_overdue boolean, shutdown_first_on date,
    shutdown_last_on date, still_running_probability double, labour_h double);
create table due (due_on date, due_month date, service_point varchar, part_number varchar,
    reason varchar, method varchar, site varchar, line varchar, application_class varchar,
    construction varchar, hazards varchar[], hose_id varchar, installed_on date,
    age_days double, replacement_age_days double, is_overdue boolean, shutdown_first_on date,
    shutdown_last_on date, labour_h double, cost_per_planned_change double,
    planned_cost_origin varchar, cost_per_failure double, saving_per_year double,
    saving_per_year_lower double, saving_per_year_upper double, saving_probability double,
    still_running_probability double, n_failures integer, n_suspensions integer);
create table planned_work (month date, scope varchar, scope_name varchar, mean double,
    lower double, upper double, cost_mean double, cost_lower double, cost_upper double);
create table unknown_reasons (application_class varchar, n_failed integer, n_unfailed integer,
    n_unknown integer, n_unknown_failed double, failures_factor double);
create table plan_effect (scope varchar, scope_name varchar, n_months integer, month date,
    n_planned integer, failures_without_plan double, failures_with_plan double, prevented double,
    prevented_lower double, prevented_upper double, cost_without_plan double,
    cost_prevented double, cost_prevented_lower double, cost_prevented_upper double,
    added_changes double, added_cost double);
create table spares (part_number varchar, construction varchar, dn integer, n_places integer,
    mean_3_months double, lower_3_months double, upper_3_months double, stock_3_months integer,
    mean_6_months double, lower_6_months double, upper_6_months double, stock_6_months integer,
    mean_12_months double, lower_12_months double, upper_12_months double,
    stock_12_months integer, mean double, stock_level integer, reorder_point integer,
    order_now integer, on_hand integer, on_order integer, service_level double,
    service_level_reason varchar, lead_time_days double, planned_12_months double,
    unit_price double, budget_12_months double, budget_12_months_lower double,
    budget_12_months_upper double, budget_12_months_p50 double, budget_12_months_p90 double,
    live_length_mm double, end_a varchar, end_b varchar, n_failures integer,
    n_suspensions integer, minimum_order integer, stock_counted_on date, next_due_on date,
    shortage_probability double, days_covered integer, overstock integer,
    level_met double, share_served double, stock_level_if_lives_certain integer,
    shelf_life_days double, shelf_cap integer,
    lead_time_days_upper double, is_lead_time_recorded boolean, price_on date, reason varchar);
create table order_list (part_number varchar, quantity integer, needed_by date,
    construction varchar, dn integer, unit_price double, order_cost decimal(18, 2),
    currency varchar, why varchar, price_on date,
    stock_level integer, reorder_point integer, on_hand integer, on_order integer,
    n_failures integer, n_suspensions integer, data_date date, edition integer);
create table spares_what_if (part_number varchar, policy varchar, lead_time_factor double,
    is_stated_level boolean, service_level double, lead_time_days double, mean double,
    stock_level integer, level_met double, order_now integer, order_cost double,
    stock_value double);
create table spares_budget (month date, n_months integer, mean double, lower double, p50 double,
    p90 double, upper double, n_parts integer, n_without_price integer);
create table spares_stand_ins (part_number varchar, stand_in varchar,
    stand_in_construction varchar, basis varchar, is_approved boolean, n_places integer,
    n_places_met integer, objection varchar, on_hand integer, spare integer,
    stock_level_with_stand_in integer);
create table refused (log varchar, source_file varchar, source_row bigint, column_name varchar,
    value varchar, reason varchar, remedy varchar);
create table superseded (log varchar, source_file varchar, source_row bigint, cause varchar);
create table loads (load_id integer, source_file varchar, log varchar, loaded_on date,
    exported_on date, n_records bigint, n_blank bigint, n_skipped bigint, n_left_out bigint,
    n_clean bigint, n_superseded bigint, n_refused bigint, status varchar, message varchar);
create table corrections (source_file varchar, log varchar, column_name varchar, what varchar,
    n_cells bigint, example varchar);
create table findings (finding varchar, service_point varchar, hose_id varchar,
    happened_on date, source_file varchar, source_row bigint, detail varchar);
create table exclusions (exclusion varchar, n_lives integer);
create table exclusion_files (exclusion varchar, source_file varchar, n_lives bigint);
create table doubts (doubt varchar, n_rows bigint, effect varchar);
create table other_readings (doubt varchar, application_class varchar, construction varchar,
    mechanism varchar, n_rows integer, b10_days double, b10_days_other double);
create table other_ranks (doubt varchar, service_point varchar, rank integer, rank_other integer);
create table log_rows (service_point varchar, log varchar, source_file varchar,
    source_row bigint, happened_on date, cells varchar, fate varchar);
create table cost_curve (n_places integer, share_of_cost double);
create table optional_logs (log varchar, n_rows bigint, adds varchar);
create table track_forecasts (as_of date, until date, basis varchar, scope varchar,
    scope_name varchar, horizon_months integer, mean double, lower integer, upper integer,
    lower_50 integer, upper_50 integer, observed integer, pit double, crps double,
    last_year_mean double, constant_rate_mean double, plug_in_mean double, cost_mean double,
    cost_observed double);
create table track_scores (basis varchar, scope varchar, horizon_months integer, method varchar,
    measure varchar, band varchar, value double, lower double, upper double, expected double,
    n_forecasts integer, n_origins integer, n_windows_apart integer, range_by varchar);
create table track_flags (as_of date, basis varchar, service_point varchar,
    application_class varchar, n_origins_flagged integer, relative_rate double,
    observed_failures integer, failures_expected_so_far double, days_since integer,
    failed_since integer, like_failed_since double, n_like integer);
create table method_notes (key varchar, title varchar, words varchar);
create table formulas (key varchar, position integer, formula varchar, meaning varchar,
    source varchar);
create table glossary (term varchar, meaning varchar);
create table log_columns (log varchar, position integer, column_name varchar, kind varchar,
    unit varchar, is_required boolean, meaning varchar, words varchar);
"""
