-- clean.impossible: one row per removal that cannot be true beside the other rows, with the
-- installation that speaks against it. Reads clean.unpaired, clean.replacements_cells,
-- clean.installations_cells.
create or replace table clean.impossible as
with told as (
    select removal_no, installation_no, case cause
        when 'overlap' then 'lies after the next installation at this place'
        when 'removed before installed' then 'the hose went in only later'
        when 'seen before installed' then 'lies before the installation'
        end as reason, cause
    from clean.unpaired
)

select
    'replacements' as log, t.row_no, t.load_id, t.entry_no, t.source_row, case cause
        when 'seen before installed' then 'last_seen_good_on' else 'removed_on'
        end as column_name,
    case cause when 'seen before installed' then t.last_seen_good_on else t.removed_on
        end::varchar as value,
    told.reason, told.cause, told.installation_no, t.service_point, t.hose_id, t.removed_on,
    coalesce('Hose ' || coalesce(t.hose_id, i.hose_id), 'A hose') || ' went in on '
        || i.installed_on || '. ' as beside
from told
join clean.replacements_cells as t on t.row_no = told.removal_no
left join clean.installations_cells as i on i.row_no = told.installation_no
where told.reason is not null
order by t.row_no
