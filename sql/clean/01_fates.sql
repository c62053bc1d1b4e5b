-- clean.fates: one row per good row that is not the current one of its key, with why: it repeats
-- another, was corrected or deleted later, or disagrees with its like in the same file.
-- Reads clean.repeated.
create or replace table clean.fates as
with within_file as (
    select
        *,
        min(cells_hash) over one_file <> max(cells_hash) over one_file as is_conflict,
        row_number() over (
            partition by log, key_hash, key_check, load_id, cells_hash
            order by entry_no, source_row) as nth
    from clean.repeated
    window one_file as (partition by log, key_hash, key_check, load_id)
),

across_files as (
    select
        *, not is_conflict and nth = 1 as is_first,
        cells_hash is not distinct from lag(cells_hash) over (
            partition by log, key_hash, key_check, not is_conflict and nth = 1
            order by known_on, load_id, entry_no, source_row) as is_same
    from within_file
),

versions as (
    select
        *, is_first and not is_same as is_version,
        row_number() over newest_first as nth_newest,
        first_value(deleted) over newest_first as is_gone
    from across_files
    window newest_first as (
        partition by log, key_hash, key_check, is_first and not is_same
        order by known_on desc, load_id desc, entry_no, source_row)
),

judged as (
    select log, row_no, load_id, entry_no, source_row, case
        when is_conflict then 'conflict'
        when not is_version then 'repeat'
        when is_gone and nth_newest <= 2 then 'deleted'
        when nth_newest > 1 then 'corrected'
        end as fate
    from versions
)

select log, row_no, load_id, entry_no, source_row, fate
from judged
where fate is not null
order by log, row_no
