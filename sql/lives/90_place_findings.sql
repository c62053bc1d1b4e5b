-- lives.place_findings: one row per oddity met at a place on the way, with the row it starts from.
-- Reads lives.stays, lives.orphans, lives.refused_nearby, lives.odd_stays,
-- lives.exchanged_meters, lives.swaps_beside_rows,
-- clean.pairs, clean.points, clean.impossible, clean.installations_typed,
-- lives.equal_rows.
create or replace table lives.place_findings as
with gaps as (
    select
        s.stay_id, min(n.found_at order by n.row_no) as cause
    from lives.stays as s
    join lives.refused_nearby as n on n.point_no = s.point_no and n.log = 'replacements'
        and (coalesce(n.happened_on between s.installed_on and s.removed_on, true)
            or (n.hose_id = s.hose_id and n.happened_on >= s.installed_on))
    where s.is_implied
    group by s.stay_id
),

implied as (
    select
        'implied removal' as finding, s.service_point, s.hose_id, s.installation_load_id as load_id,
        s.installation_row as source_row, s.removed_on as happened_on,
        'Another hose (' || coalesce(i.hose_id, 'no tag') || ') went in on ' || s.removed_on
        || ' and no removal was logged; this stay ends there with reason unknown.'
        || ' If both were there at once, the place is two service points.'
        || coalesce(' Probably because ' || g.cause || ' was refused.', '') as detail
    from lives.stays as s
    join clean.pairs as p using (installation_no)
    join clean.installations_typed as i on i.row_no = p.next_installation_no
    left join gaps as g using (stay_id)
    where s.is_implied
),

lost as (
    select o.removal_no, min(n.found_at order by n.row_no) as cause
    from lives.orphans as o
    join clean.points as q using (service_point)
    join lives.refused_nearby as n on n.point_no = q.point_no and n.log = 'installations'
        and coalesce(n.happened_on <= o.removed_on, true)
        and coalesce(n.hose_id = o.hose_id, true)
    group by o.removal_no
),

orphaned as (
    select
        o.cause, o.service_point, o.hose_id, o.removal_load_id, o.removal_row, o.removed_on,
        case o.cause when 'tag mismatch' then 'By the logs ' || i.hose_id
            || ' was there, installed on ' || i.installed_on || '; the two were not matched.'
            else 'No installation goes with it: it has no age.' end
        || coalesce(' Equal rows of ' || d.installed_on || ' count once: if two hoses went in then,'
            || ' the place is two service points.', '')
        || coalesce(' Probably because ' || l.cause || ' was refused.', '')
    from lives.orphans as o
    left join clean.installations_typed as i on i.row_no = o.installation_no
    left join lost as l using (removal_no)
    left join lives.equal_rows as d using (removal_no)
),

overlapping as (
    select
        'overlap', m.service_point, m.hose_id, m.load_id, m.source_row, m.removed_on,
        'Installed on ' || i.installed_on || ', but another hose went in before ' || m.removed_on
        || '; the removal was refused.'
    from clean.impossible as m
    join clean.installations_typed as i on i.row_no = m.installation_no
    where m.cause = 'overlap'
)

select finding, service_point, hose_id, load_id, source_row, happened_on, detail
from (
    select * from implied union all select * from orphaned union all select * from overlapping
    union all select * from lives.odd_stays union all select * from lives.exchanged_meters
    union all select * from lives.swaps_beside_rows)
order by finding, service_point, happened_on, hose_id, load_id, source_row, detail
