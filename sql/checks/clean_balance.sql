-- Every row read, once: it is clean, superseded or refused. Returns the rows of which that is not
-- true, with the number of times that they are found.
with read_rows as (
    select 'service_points' as log, load_id, entry_no, source_row from raw.service_points
    union all
    select 'constructions', load_id, entry_no, source_row from raw.constructions
    union all
    select 'parts', load_id, entry_no, source_row from raw.parts
    union all
    select 'installations', load_id, entry_no, source_row from raw.installations
    union all
    select 'replacements', load_id, entry_no, source_row from raw.replacements
    union all
    select 'inspections', load_id, entry_no, source_row from raw.inspections
    union all
    select 'teardowns', load_id, entry_no, source_row from raw.teardowns
    union all
    select 'usage', load_id, entry_no, source_row from raw.usage
    union all
    select 'stock', load_id, entry_no, source_row from raw.stock
    union all
    select 'trials', load_id, entry_no, source_row from raw.trials
    union all
    select l.log, u.load_id, u.entry_no, u.source_row
    from (select distinct load_id, entry_no, source_row from raw.unreadable) as u
    join raw.loads as l on l.load_id = u.load_id and l.entry_no = u.entry_no
),

kept_rows as (
    select 'service_points' as log, load_id, entry_no, source_row from clean.service_points
    union all
    select 'constructions', load_id, entry_no, source_row from clean.constructions
    union all
    select 'parts', load_id, entry_no, source_row from clean.parts
    union all
    select 'installations', load_id, entry_no, source_row from clean.installations
    union all
    select 'replacements', load_id, entry_no, source_row from clean.replacements
    union all
    select 'inspections', load_id, entry_no, source_row from clean.inspections
    union all
    select 'teardowns', load_id, entry_no, source_row from clean.teardowns
    union all
    select 'usage', load_id, entry_no, source_row from clean.usage
    union all
    select 'stock', load_id, entry_no, source_row from clean.stock
    union all
    select 'trials', load_id, entry_no, source_row from clean.trials
    union all
    select log, load_id, entry_no, source_row from clean.superseded
    union all
    select distinct log, load_id, entry_no, source_row from clean.refused
),

counted as (
    select log, load_id, entry_no, source_row, 1 as n_read, 0 as n_kept from read_rows
    union all
    select log, load_id, entry_no, source_row, 0, 1 from kept_rows
)

select log, load_id, entry_no, source_row, sum(n_read) as n_read, sum(n_kept) as n_kept
from counted
group by log, load_id, entry_no, source_row
having sum(n_read) <> 1 or sum(n_kept) <> 1
order by log, load_id, entry_no, source_row
