-- append.touched: one row per service point that new rows name themselves; those that earlier rows
-- of the same tags and records name are added. Reads clean.<log>_new.
create or replace table append.touched as
with named as (
    select point_no from clean.installations_new
    union
    select point_no from clean.replacements_new
    union
    select point_no from clean.teardowns_new
    union
    select point_no from clean.inspections_new
)

from named where point_no is not null
