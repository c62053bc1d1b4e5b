-- Every clean installation makes one stay, every clean removal ends one stay or stands alone.
-- Returns the rows of which that is not true.
with used as (
    select 'installations' as log, installation_no as row_no, 1 as n_used, 0 as n_there
    from lives.stays
    union all
    select 'replacements', removal_no, 1, 0 from lives.stays where removal_no is not null
    union all
    select 'replacements', removal_no, 1, 0 from lives.orphans
    union all
    select 'installations', row_no, 0, 1 from clean.installations
    union all
    select 'replacements', row_no, 0, 1 from clean.replacements
)

select log, row_no, sum(n_used) as n_used, sum(n_there) as n_there
from used
group by log, row_no
having sum(n_used) <> 1 or sum(n_there) <> 1
order by log, row_no
