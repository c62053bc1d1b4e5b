-- lives.place_findings: one row per oddity met at a place on the way, with the row it starts from.
-- Reads lives.stays, lives.orphans, lives.refused_nearby, lives.hoses_in_two_places,
-- lives.lost_ages, lives.stays_after_retirement, lives.exchanged_meters, lives.swaps_beside_rows,
-- clean.pairs, clean.points, clean.impossible, clean.installations_cells,
-- lives.equal_rows.
create or replace table lives.place_findings as
-- What lacks a row of a log, and the installation that it is told beside: looked up once for all.
with told as (
    select
        'implied removal' as finding, s.service_point, s.hose_id, s.installation_load_id as load_id,
        s.installation_row as source_row, s.removed_on as happened_on, s.installation_no as told_no,
        p.next_installation_no as beside_no, s.point_no, 'replacements' as lacking,
        s.installed_on as since, null::date as equal_on
    from lives.stays as s
    join clean.pairs as p using (installation_no)
    where s.is_implied
    union all
    select
        o.cause, o.service_point, o.hose_id, o.removal_load_id, o.removal_row, o.removed_on,
        o.removal_no, o.installation_no, q.point_no, 'installations', null, d.installed_on
    from lives.orphans as o
    join clean.points as q using (service_point)
    left join lives.equal_rows as d using (removal_no)
    union all
    select
        'overlap', service_point, hose_id, load_id, source_row, removed_on, row_no, installation_no,
        null, null, null, null
    from clean.impossible
    where cause = 'overlap'
),

causes as (
    select t.told_no, arg_min(n.found_at, (n.row_no, n.log)) as cause
    from told as t
    join lives.refused_nearby as n
        on n.point_no = t.point_no and n.log = t.lacking and case t.lacking
            when 'replacements' then coalesce(n.happened_on between t.since and t.happened_on, true)
                or (n.hose_id = t.hose_id and n.happened_on >= t.since)
            else coalesce(n.happened_on <= t.happened_on, true)
                and coalesce(n.hose_id = t.hose_id, true)
            end
    group by t.told_no
),

-- Of all rows the few that are told of: what is joined from the left would else be looked up in all.
beside as (
    select row_no, hose_id, installed_on
    from clean.installations_cells
    where row_no in (select beside_no from told)
),

worded as (
    select
        t.finding, t.service_point, t.hose_id, t.load_id, t.source_row, t.happened_on, case t.finding
        when 'implied removal' then 'Another hose (' || coalesce(i.hose_id, 'no tag')
            || ') went in on ' || t.happened_on
            || ' and no removal was logged; this stay ends there with reason unknown.'
            || ' If both were there at once, the place is two service points.'
        when 'overlap' then 'Installed on ' || i.installed_on || ', but another hose went in before '
            || t.happened_on || '; the removal was refused.'
        when 'tag mismatch' then 'By the logs ' || i.hose_id || ' was there, installed on '
            || i.installed_on || '; the two were not matched.'
        else 'No installation goes with it: it has no age.'
        end || coalesce(' Equal rows of ' || t.equal_on || ' count once: if two hoses went in then,'
            || ' the place is two service points.', '')
        || coalesce(' Probably because ' || c.cause || ' was refused.', '') as detail
    from told as t
    left join beside as i on i.row_no = t.beside_no
    left join causes as c using (told_no)
)

select finding, service_point, hose_id, load_id, source_row, happened_on, detail
from (
    select * from worded union all select * from lives.hoses_in_two_places
    union all select * from lives.lost_ages union all select * from lives.stays_after_retirement
    union all select * from lives.exchanged_meters union all select * from lives.swaps_beside_rows)
order by finding, service_point, happened_on, hose_id, load_id, source_row, detail
