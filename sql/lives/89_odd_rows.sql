-- lives.odd_rows: one row per oddity of the logs themselves: a meter that fell, a correction that a
-- later file took back. Reads lives.meters, clean.usage, clean.returned.
create or replace table lives.odd_rows as
select
    'meter exchanged' as finding, m.service_point, null::varchar as hose_id, u.load_id,
    u.source_row, m.read_on as happened_on,
    'The meter of ' || coalesce(m.equipment, m.service_point) || ' fell to ' || m.reading
    || '; the ' || case m.clock when 'cycles' then 'cycles' else 'hours' end
    || ' since the reading before are taken from its earlier pace.' as detail
from lives.meters as m
join clean.usage as u using (row_no)
where m.is_exchanged
union all
select
    'returned to an earlier value', null, null, r.load_id, r.source_row, null,
    'A row of ' || r.log || ' undoes a correction: was an old file loaded again?'
from clean.returned as r
order by finding, service_point, happened_on, load_id, source_row
