-- lives.equal_rows: one row per removal without tag and installation where equal rows of one file, which count once, may have stood
-- for two hoses put in on one day. Reads lives.orphans, clean.installations_typed, clean.fates.
create or replace view lives.equal_rows as
select o.removal_no, max(t.installed_on) as installed_on
from lives.orphans as o
join clean.installations_typed as t
    on t.service_point = o.service_point and t.installed_on <= o.removed_on
join clean.fates as f on f.log = 'installations' and f.row_no = t.row_no and f.fate = 'repeat'
join clean.installations_typed as k on k.load_id = t.load_id and k.entry_no = t.entry_no
    and k.point_no = t.point_no and k.installed_on = t.installed_on and k.row_no < t.row_no
where o.hose_id is null and t.hose_id is null
group by o.removal_no
