-- results.log_rows: one row per loaded row that names a service point, with its cells as read and its fate. Rows that only repeat an
-- earlier one are left to results.superseded: where every month exports its whole log, they are nearly all of them.
-- A view: publishing alone reads it, once, and puts its rows in order.
-- Reads raw.service_points, raw.installations, raw.replacements, raw.inspections, raw.teardowns, raw.trials, raw.loads, clean.refused, clean.superseded.
create or replace view results.log_rows as
with again as (
    select log, load_id, entry_no, source_row from clean.superseded where cause = 'repeat'
),

every_row as (
    select 'service_points' as log, load_id, entry_no, source_row, service_point, null::varchar as day, other_cells,
        to_json(struct_pack(service_point, application_class, site, area, line, equipment, medium, hazards, dn, pressure_bar,
            temperature_c, vibration_mm_s_rms, live_length_mm, records_from, retired_on)) as cells
    from raw.service_points anti join (from again where log = 'service_points') using (load_id, entry_no, source_row)
    union all
    select 'installations', load_id, entry_no, source_row, service_point, installed_on, other_cells,
        to_json(struct_pack(installed_on, service_point, hose_id, part_number, construction, age_at_installation, work_order, row_id, deleted))
    from raw.installations anti join (from again where log = 'installations') using (load_id, entry_no, source_row)
    union all
    select 'replacements', load_id, entry_no, source_row, service_point, removed_on, other_cells,
        to_json(struct_pack(removed_on, service_point, reason, hose_id, last_seen_good_on, mechanism, part_cost, labour_cost, downtime_h,
            other_cost, planned, work_order, row_id, deleted))
    from raw.replacements anti join (from again where log = 'replacements') using (load_id, entry_no, source_row)
    union all
    select 'inspections', load_id, entry_no, source_row, service_point, inspected_on, other_cells,
        to_json(struct_pack(inspected_on, service_point, condition, vibration_mm_s_rms, vibration_hz, natural_frequency_hz, note,
            row_id, deleted))
    from raw.inspections anti join (from again where log = 'inspections') using (load_id, entry_no, source_row)
    union all
    select 'teardowns', load_id, entry_no, source_row, service_point, examined_on, other_cells,
        to_json(struct_pack(examined_on, service_point, hose_id, removed_on, finding, value, examiner, note,
            row_id, deleted))
    from raw.teardowns anti join (from again where log = 'teardowns') using (load_id, entry_no, source_row)
    union all
    select 'trials', load_id, entry_no, source_row, service_point, started_on, other_cells,
        to_json(struct_pack(trial, service_point, arm, construction, started_on, ended_on, decision, decision_reason, pair,
            planned_end_on, row_id, deleted))
    from raw.trials anti join (from again where log = 'trials') using (load_id, entry_no, source_row)
),

fates as (
    select log, load_id, entry_no, source_row, min(fate) as fate
    from (
        select log, load_id, entry_no, source_row, 'refused' as fate from clean.refused
        union all
        select log, load_id, entry_no, source_row, 'superseded' from clean.superseded where cause <> 'repeat'
    )
    group by log, load_id, entry_no, source_row
)

select
    trim(r.service_point, ' ' || chr(9) || chr(10) || chr(13) || chr(160) || chr(8199) || chr(8239) || chr(65279)) as service_point,
    r.log, l.source_file, r.source_row, r.day as happened_on,
    case when r.other_cells is null then json_merge_patch('{}', r.cells)
         else json_merge_patch(json_merge_patch('{}', r.cells), r.other_cells::json) end::varchar as cells,
    coalesce(f.fate, 'used') as fate
from every_row as r
join raw.loads as l using (load_id, entry_no)
left join fates as f
    on f.log = r.log and f.load_id = r.load_id and f.entry_no = r.entry_no and f.source_row = r.source_row
where r.service_point is not null
