-- lives.exchanged_meters: one row per reading at which a meter fell. Reads lives.meters, clean.usage.
create or replace view lives.exchanged_meters as
select
    'meter exchanged' as finding, m.service_point, null::varchar as hose_id, u.load_id,
    u.source_row, m.read_on as happened_on,
    'The meter of ' || coalesce(m.equipment, m.service_point) || ' fell to ' || m.reading
    || '; the ' || case m.clock when 'cycles' then 'cycles' else 'hours' end
    || ' since the reading before are taken from its earlier pace.' as detail
from lives.meters as m
join clean.usage as u using (row_no)
where m.is_exchanged
