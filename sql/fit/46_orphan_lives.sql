-- fit.orphan_lives: one row per removal without a known installation as a life, had its hose gone in when the place was last seen
-- empty or else when its records begin, and been made like the next hose there; none where the logs say another hose was there.
-- Reads lives.orphans, lives.stays, clean.service_points, fit.cells, fit.places.
create or replace table fit.orphan_lives as
with begun as (
    select
        o.removal_no, o.service_point, o.removed_on, o.removal_reason, o.last_seen_good_on, o.is_failure, coalesce(
            greatest(
                (select max(s.removed_on) from lives.stays as s
                where s.service_point = o.service_point and s.removed_on <= o.removed_on),
                (select max(b.removed_on) from lives.orphans as b
                where b.service_point = o.service_point and b.removed_on < o.removed_on)),
            case when p.records_from < o.removed_on then p.records_from end) as began_on,
        coalesce(
            (select min_by(s.construction, (s.installed_on, s.stay_id)) from lives.stays as s
            where s.service_point = o.service_point and s.installed_on >= o.removed_on),
            (select max_by(s.construction, (s.installed_on, s.stay_id)) from lives.stays as s
            where s.service_point = o.service_point and s.installed_on < o.removed_on), 'unknown') as construction
    from lives.orphans as o
    join clean.service_points as p using (service_point)
    where o.cause = 'removal without installation' and not exists (
        from lives.stays as s where s.service_point = o.service_point and s.installed_on < o.removed_on
            and coalesce(s.removed_on > o.removed_on, true))
)

select
    b.removal_no, c.cell, p.place, case when b.is_failure and b.removal_reason = 'found_failed'
        then greatest(coalesce(b.last_seen_good_on, b.began_on) - b.began_on, 0)
        else b.removed_on - b.began_on end::double as low,
    case when b.is_failure then (b.removed_on - b.began_on)::double else 'infinity'::double end as high
from begun as b
join fit.places as p using (service_point)
join fit.cells as c on c.application_class = p.application_class and c.construction = b.construction
where b.began_on < b.removed_on
order by b.removal_no
