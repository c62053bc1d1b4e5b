-- lives.equal_rows: one row per removal without tag and installation where equal rows of one file,
-- which count once, may have stood for two hoses put in on one day; the latest such day before it.
-- Reads lives.orphans, clean.points, clean.installations_cells, clean.fates.
create or replace table lives.equal_rows as
with repeats as (
    select t.load_id, t.entry_no, t.point_no, t.installed_on, t.row_no
    from clean.fates as f
    join clean.installations_cells as t using (row_no)
    where f.log = 'installations' and f.fate = 'repeat' and t.hose_id is null
),

first_alike as (
    select load_id, entry_no, point_no, installed_on, min(row_no) as row_no
    from clean.installations_cells
    semi join repeats using (load_id, entry_no, point_no, installed_on)
    group by load_id, entry_no, point_no, installed_on
),

days as (
    select distinct p.service_point, t.installed_on
    from repeats as t
    join first_alike as k using (load_id, entry_no, point_no, installed_on)
    join clean.points as p using (point_no)
    where k.row_no < t.row_no
),

orphans as (
    select removal_no, service_point, removed_on from lives.orphans where hose_id is null
)

select o.removal_no, d.installed_on
from orphans as o
asof join days as d
    on o.service_point = d.service_point and o.removed_on >= d.installed_on
order by o.removal_no
