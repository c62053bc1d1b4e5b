-- fit.unknown_removals: one row per kind and age at which hoses came out without a reason; and, at no age, what is known of the kind:
-- hoses that failed, and that came out unfailed for a stated reason. Reads fit.counted_lives, fit.cells.
create or replace table fit.unknown_removals as
with ended as (
    select c.cell, l.age_low_days as age, l.is_unknown_reason, l.kind <> 'suspended' as is_failed
    from fit.counted_lives as l
    join fit.cells as c using (application_class, construction)
    where l.is_fitted and not l.is_open
)

select
    cell, case when is_unknown_reason then age end as age, count(*) filter (where is_unknown_reason)::double as n,
    count(*) filter (where is_failed)::double as n_failed,
    count(*) filter (where not is_failed and not is_unknown_reason)::double as n_unfailed
from ended
group by cell, case when is_unknown_reason then age end
order by cell, age
