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
    select *, cells_hash is not distinct from lag(cells_hash) over (
        partition by log, key_hash, key_check order by known_on, load_id) as is_repeat
    from within_file
    where not is_conflict and nth = 1
),

versions as (
    select
        *,
        row_number() over newest_first as nth_newest,
        last_value(deleted) over oldest_first as is_gone
    from across_files
    where not is_repeat
    window
        newest_first as (partition by log, key_hash, key_check order by known_on desc, load_id desc),
        oldest_first as (
            partition by log, key_hash, key_check order by known_on, load_id
            rows between unbounded preceding and unbounded following)
),

judged as (
    select log, row_no, 'conflict' as fate from within_file where is_conflict
    union all
    select log, row_no, 'repeat' from within_file where not is_conflict and nth > 1
    union all
    select log, row_no, 'repeat' from across_files where is_repeat
    union all
    select log, row_no, case
        when is_gone and nth_newest <= 2 then 'deleted'
        else 'corrected'
    end
    from versions
    where is_gone or nth_newest > 1
)

select r.log, r.row_no, r.load_id, r.entry_no, r.source_row, j.fate
from judged as j
join clean.repeated as r using (log, row_no)
order by r.log, r.row_no
