-- results.names: one row per name that a reader may look for: place, line of a site, hose, part. Numbered and stored by kind and
-- then as people count: P-2 before P-10, whatever the case. Reads results.service_points, results.lives, results.spares.
create or replace table results.names as
with every_name as (
    select 1 as kind_no, 'place' as kind, service_point as name, null as site, coalesce(application_class, '') as detail
    from results.service_points
    union all
    select distinct 2, 'line', line, site, coalesce(site, '') from results.service_points
    union all
    select 3, 'hose', hose_id, null, arg_max(service_point, (installed_on, service_point)) from results.lives group by hose_id
    union all
    select distinct 4, 'part', part_number, null, coalesce(construction, '') from results.spares
),

-- Numbers of up to twenty digits are written with as many, so that their texts are in the order of their sizes.
keyed as (
    select
        *, lower(case when kind = 'line' then concat_ws(' ', site, name) else name end) as searched,
        regexp_replace(regexp_replace(lower(name), '([0-9]+)', '00000000000000000000\1', 'g'), '0+([0-9]{20})', '\1', 'g') as counted
    from every_name
    where name is not null
)

select
    row_number() over (order by kind_no, counted, name, site, detail)::integer as name_no, kind, name, site, detail, searched
from keyed
order by name_no
