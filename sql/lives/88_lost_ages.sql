-- lives.lost_ages: one row per stay of a hose that came out before of a stay whose start is not
-- known. Reads lives.stays, lives.orphans, clean.installations_cells.
create or replace table lives.lost_ages as
with first_orphan as (
    select hose_id, min(removed_on) as removed_on
    from lives.orphans
    where hose_id is not null
    group by hose_id
)

select
    'earlier age unknown' as finding, s.service_point, s.hose_id, s.installation_load_id as load_id,
    s.installation_row as source_row, s.installed_on as happened_on,
    'It came out on ' || o.removed_on || ' from a stay whose start is not known;'
    || ' its age counts from this installation.' as detail
from lives.stays as s
join first_orphan as o on o.hose_id = s.hose_id and o.removed_on <= s.installed_on
join clean.installations_cells as i on i.row_no = s.installation_no
where i.age_at_installation is null
