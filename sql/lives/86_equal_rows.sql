-- lives.equal_rows: one row per removal without tag and installation where equal rows of one file, which count once, may have stood
-- for two hoses put in on one day. Reads lives.orphans, clean.points, clean.installations_typed, clean.fates.
create or replace view lives.equal_rows as
with repeats as (
    select t.*
    from clean.fates as f
    join clean.installations_typed as t using (row_no)
    where f.log = 'installations' and f.fate = 'repeat' and t.hose_id is null
)

select o.removal_no, max(t.installed_on) as installed_on
from repeats as t
join clean.installations_typed as k on k.load_id = t.load_id and k.entry_no = t.entry_no
    and k.point_no = t.point_no and k.installed_on = t.installed_on and k.row_no < t.row_no
join clean.points as p on p.point_no = t.point_no
join lives.orphans as o on o.service_point = p.service_point and o.removed_on >= t.installed_on
where o.hose_id is null
group by o.removal_no
