-- results.exclusion_files: one row per reason for which lives stay out of the fits and file whose rows they are: the installation's,
-- or the removal's where that alone is known. Reads lives.lives, lives.orphans, raw.loads.
create or replace table results.exclusion_files as
with files as (
    select load_id, min(source_file) as source_file from raw.loads group by load_id
),

left_out as (
    select exclusion, installation_load_id as load_id
    from lives.lives
    where not is_fitted
    union all
    select 'removal without a known installation: no age', removal_load_id from lives.orphans
)

select o.exclusion, f.source_file, count(*) as n_lives
from left_out as o
join files as f using (load_id)
group by o.exclusion, f.source_file
order by o.exclusion, f.source_file
