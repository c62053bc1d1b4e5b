-- lives.odd_stays: one row per stay that stands but looks wrong beside others: a hose in two
-- places at once, one whose earlier age is lost, one put into a retired place.
-- Reads lives.stays, lives.carried, lives.orphans, clean.installations_typed, clean.points.
create or replace view lives.odd_stays as
with tagged as (
    select *, lag(service_point) over in_order as place_before,
        lag(removed_on) over in_order as removed_before,
        lag(stay_id) over in_order as stay_before
    from lives.stays
    semi join lives.carried using (installation_no)
    where is_tagged
    window in_order as (partition by hose_id order by installed_on, removed_on, stay_id)
),

first_orphan as (
    select hose_id, min(removed_on) as removed_on
    from lives.orphans
    where hose_id is not null
    group by hose_id
)

select
    'hose in two places' as finding, service_point, hose_id, installation_load_id as load_id,
    installation_row as source_row, installed_on as happened_on,
    'It was still at ' || place_before || ' by the logs.' as detail
from tagged
where stay_before is not null and coalesce(removed_before > installed_on, true)
union all
select
    'earlier age unknown', s.service_point, s.hose_id, s.installation_load_id, s.installation_row,
    s.installed_on, 'It came out on ' || o.removed_on || ' from a stay whose start is not known;'
    || ' its age counts from this installation.'
from lives.stays as s
join first_orphan as o on o.hose_id = s.hose_id and o.removed_on <= s.installed_on
join clean.installations_typed as i on i.row_no = s.installation_no
where i.age_at_installation is null
union all
select
    'installed after retirement', s.service_point, s.hose_id, s.installation_load_id,
    s.installation_row, s.installed_on, 'The place was retired on ' || p.retired_on || '.'
from lives.stays as s
join (from clean.points where retired_on is not null) as p using (point_no)
where p.retired_on < s.installed_on
