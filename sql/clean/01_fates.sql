-- clean.fates: one row per good row that is not the current one of its key, with why: it repeats
-- another, was corrected or deleted later, deletes nothing, or disagrees with its like in one file.
-- The number of a row orders as its load, entry and row do. Reads clean.repeated.
create or replace table clean.fates as
-- Where every month exports its whole log, nearly all keys come again and say the same each time:
-- the row known first stays.
with alike as (
    select log, key_hash, key_check, arg_min(row_no, (known_on, row_no)) as first_no
    from clean.repeated
    group by log, key_hash, key_check
    having min(cells_hash) = max(cells_hash) and not bool_or(deleted)
),

others as (
    select log, key_hash, key_check, load_id, row_no, known_on, deleted, cells_hash
    from clean.repeated anti join alike using (log, key_hash, key_check)
),

in_one_file as (
    select log, key_hash, key_check, load_id, min(cells_hash) <> max(cells_hash) as is_conflict
    from others
    group by log, key_hash, key_check, load_id
    having count(*) > 1
),

-- Most keys come again in another file only: those need no window.
within_file as (
    select *, false as is_conflict, 1 as nth
    from others
    anti join in_one_file using (log, key_hash, key_check, load_id)
    union all by name
    select
        r.*, f.is_conflict, row_number() over (
            partition by r.log, r.key_hash, r.key_check, r.load_id, r.cells_hash
            order by r.row_no) as nth
    from others as r
    join in_one_file as f using (log, key_hash, key_check, load_id)
),

across_files as (
    select
        *, not is_conflict and nth = 1 as is_first,
        cells_hash is not distinct from lag(cells_hash) over (
            partition by log, key_hash, key_check, not is_conflict and nth = 1
            order by known_on, row_no) as is_same
    from within_file
),

versions as (
    select
        *, is_first and not is_same as is_version,
        row_number() over newest_first as nth_newest,
        first_value(deleted) over newest_first as is_gone,
        bool_and(deleted) over all_versions as was_never_there
    from across_files
    window newest_first as (
        partition by log, key_hash, key_check, is_first and not is_same
        order by known_on desc, load_id desc, row_no),
    all_versions as (partition by log, key_hash, key_check, is_first and not is_same)
),

judged as (
    select log, row_no, case
        when is_conflict then 'conflict'
        when not is_version then 'repeat'
        when was_never_there then 'deletes nothing'
        when is_gone and nth_newest <= 2 then 'deleted'
        when nth_newest > 1 then 'corrected'
        end as fate
    from versions
    union all
    select r.log, r.row_no, 'repeat'
    from clean.repeated as r join alike as a using (log, key_hash, key_check)
    where r.row_no <> a.first_no
)

select log, row_no, (row_no >> 42)::integer as load_id, ((row_no >> 32) & 1023)::integer as entry_no,
    row_no & 4294967295 as source_row, fate
from judged where fate is not null
order by log, row_no
