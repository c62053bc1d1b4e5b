-- base.links: one row per tag, or number of a site's own record, and service point that rows name it
-- with. Half of a hash is half of what is to be read; where two meet in it, a place more is built
-- again. The upper part of that comes in runs, which are passed over at once.
-- Reads clean.installations_cells, clean.replacements_cells, clean.inspections_cells,
-- clean.teardowns_cells.
create or replace table base.links as
with told as (
    select hash(hose_id) as link, point_no from clean.installations_cells where hose_id is not null
    union all
    select hash(hose_id), point_no from clean.replacements_cells where hose_id is not null
    union all
    select hash(hose_id), point_no from clean.teardowns_cells where hose_id is not null
    union all
    select key_hash, point_no from clean.installations_cells where row_id is not null
    union all
    select key_hash, point_no from clean.replacements_cells where row_id is not null
    union all
    select key_hash, point_no from clean.inspections_cells where row_id is not null
    union all
    select key_hash, point_no from clean.teardowns_cells where row_id is not null
)

select distinct (link >> 48)::usmallint as part, (link >> 32)::uinteger as link, point_no
from told
where point_no is not null
order by link, point_no
