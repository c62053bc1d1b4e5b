-- append.touched: one row per service point that new rows name themselves, or by a tag or number of
-- a record that earlier rows name.
-- Reads clean.<log>_new, base.links.
create or replace table append.touched as
with named as (
    select point_no, hash(hose_id) as tag, hose_id is not null as is_tagged, key_hash,
        row_id is not null as is_keyed
    from clean.installations_new
    union all
    select point_no, hash(hose_id), hose_id is not null, key_hash, row_id is not null
    from clean.replacements_new
    union all
    select point_no, hash(hose_id), hose_id is not null, key_hash, row_id is not null
    from clean.teardowns_new
    union all
    select point_no, 0, false, key_hash, row_id is not null from clean.inspections_new
),

links as (
    select tag as link from named where is_tagged
    union
    select key_hash from named where is_keyed
)

select point_no from named where point_no is not null
union
select point_no from base.links where link in (select link from links)
