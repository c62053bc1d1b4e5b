-- append.links: one row per tag, or number of a site's own record, that new rows name, as base.links
-- has them. Reads clean.<log>_new.
create or replace table append.links as
with told as (
    select hash(hose_id) as link from clean.installations_new where hose_id is not null
    union
    select hash(hose_id) from clean.replacements_new where hose_id is not null
    union
    select hash(hose_id) from clean.teardowns_new where hose_id is not null
    union
    select key_hash from clean.installations_new where row_id is not null
    union
    select key_hash from clean.replacements_new where row_id is not null
    union
    select key_hash from clean.teardowns_new where row_id is not null
    union
    select key_hash from clean.inspections_new where row_id is not null
)

select distinct (link >> 32)::uinteger as link from told
