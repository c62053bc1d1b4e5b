-- clean.conflicts: one row per row whose like in the same file disagrees, naming those it disagrees
-- with. Reads clean.repeated, clean.fates, clean.keys.
create or replace table clean.conflicts as
with alike as (
    select r.*, row_number() over (
        partition by r.log, r.load_id, r.key_hash, r.key_check order by r.row_no) as nth
    from clean.repeated as r
    join clean.fates as f on f.log = r.log and f.row_no = r.row_no and f.fate = 'conflict'
),

-- The first rows stand for all: each of thousands would else list thousands.
listed as (
    select
        log, load_id, key_hash, key_check,
        'rows ' || string_agg(source_row::varchar, ', ' order by row_no) filter (where nth <= 10)
        || case when count(*) > 10 then ' and ' || count(*) - 10 || ' more' else '' end as value
    from alike
    group by log, load_id, key_hash, key_check
)

select
    r.log, r.load_id, r.entry_no, r.source_row, k.key_columns as column_name, l.value,
    'rows of one key disagree within one file' as reason
from alike as r
join listed as l using (log, load_id, key_hash, key_check)
join clean.keys as k using (log)
